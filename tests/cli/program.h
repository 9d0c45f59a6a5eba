#pragma once
// The whole program called in process: what it says, to whom, and its exit status.
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include <tools/ohmtilt/program/run.h>

#include "tests/support.h"

namespace ohmtilt::test {

struct Ran {
  int status;
  std::string out, err;
  nlohmann::ordered_json json() const { return nlohmann::ordered_json::parse(out); }
};

inline Ran run(const std::vector<std::string>& args) {
  std::ostringstream out;
  std::ostringstream err;
  const int status = cli::run(args, out, err);
  return {status, out.str(), err.str()};
}

inline std::vector<std::string> keys(const nlohmann::ordered_json& object) {
  std::vector<std::string> result;
  for (const auto& item : object.items()) result.push_back(item.key());
  return result;
}

/// A demo file by name.
inline std::string demo(const std::string& name) {
  return (source_dir() / "impedance-curves" / name).string();
}

/// Bad input: exit status 2, nothing on standard output, one line on standard error holding text.
inline void expect_refused(const Ran& ran, const std::string& text) {
  EXPECT_EQ(ran.status, 2);
  EXPECT_EQ(ran.out, "");
  EXPECT_EQ(ran.err.rfind("ohmtilt: ", 0), 0u) << ran.err;
  EXPECT_NE(ran.err.find(text), std::string::npos) << ran.err;
  EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1) << ran.err;
}

}  // namespace ohmtilt::test
