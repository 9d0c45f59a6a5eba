#include "tests/cli/program.h"

#include <gtest/gtest.h>
#include <algorithm>
#include <sstream>

#include <tools/ohmtilt/program/run.h>

template class nlohmann::basic_json<nlohmann::ordered_map>;

namespace ohmtilt::test {

nlohmann::ordered_json Ran::json() const { return nlohmann::ordered_json::parse(out); }

Ran run(const std::vector<std::string>& args) {
  std::ostringstream out;
  std::ostringstream err;
  const int status = cli::run(args, out, err);
  return {status, out.str(), err.str()};
}

std::vector<std::string> keys(const nlohmann::ordered_json& object) {
  std::vector<std::string> result;
  for (const auto& item : object.items()) result.push_back(item.key());
  return result;
}

std::string demo(const std::string& name) {
  return (source_dir() / "impedance-curves" / name).string();
}

std::string chain_of(const std::string& title, double ohm) {
  return "title = \"" + title + "\"\n[source]\noutput_ohm = " + std::to_string(ohm) + "\n";
}

std::vector<std::string> with(std::vector<std::string> args, const std::vector<std::string>& more) {
  args.insert(args.end(), more.begin(), more.end());
  return args;
}

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

void expect_refused(const Ran& ran, const std::string& text) {
  EXPECT_EQ(ran.status, 2);
  EXPECT_EQ(ran.out, "");
  EXPECT_EQ(ran.err.rfind("ohmtilt: ", 0), 0u) << ran.err;
  EXPECT_NE(ran.err.find(text), std::string::npos) << ran.err;
  EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1) << ran.err;
}

}  // namespace ohmtilt::test
