// Every number of every file has a range: outside it is refused at its file, line and
// column.
#include <gmock/gmock.h>

#include <regex>
#include <sstream>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

/// No key, column or unit has room for these (FILES.md).
const std::vector<std::string> beyond = {"1e308", "-1e308", "1e20", "-1e20", "1e-300"};
const std::regex number_pattern("-?\\d[\\d.]*(e[-+]?\\d+)?");

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const auto& line : lines) text += line + "\n";
  return text;
}

/// The demo folder without its measurements.
void copy_demo(const Scratch& scratch) {
  for (const auto& entry : std::filesystem::directory_iterator(source_dir() / "impedance-curves"))
    if (entry.is_regular_file())
      std::filesystem::copy_file(entry.path(), scratch / entry.path().filename().string());
}

/// Runs with line `row` of file changed to text; the place is that very line.
void expect_refused_at(const Scratch& scratch, const std::string& file, std::size_t row,
                       const std::string& text, const std::vector<std::string>& args) {
  const std::string whole = contents(scratch / file);
  auto lines = lines_of(whole);
  lines[row] = text;
  scratch.write(file, joined(lines));
  const Ran ran = run(args);
  scratch.write(file, whole);
  EXPECT_EQ(ran.status, 2) << file << ": " << text;
  const std::string place = file + ":" + std::to_string(row + 1) + ":";
  EXPECT_THAT(ran.err, testing::HasSubstr(place)) << text;
  EXPECT_TRUE(std::regex_search(ran.err, std::regex(":\\d+:\\d+: "))) << ran.err;
}

/// Each number of each `key = value` line, and of lists, put outside.
void check_toml(const Scratch& scratch, const std::string& file,
                const std::vector<std::string>& args) {
  const auto lines = lines_of(contents(scratch / file));
  for (std::size_t row = 0; row < lines.size(); ++row) {
    const auto equals = lines[row].find(" = ");
    if (equals == std::string::npos || lines[row].starts_with("#") ||
        lines[row].find('"') != std::string::npos)
      continue;
    std::smatch found;
    const std::string value = lines[row].substr(equals + 3);
    if (!std::regex_search(value, found, number_pattern)) continue;
    for (const auto& wrong : beyond) {
      // So small a decibel, degree or percentage is as good as none.
      if (wrong == "1e-300" && std::regex_search(lines[row], std::regex("db|deg|percent|_ms")))
        continue;
      expect_refused_at(
          scratch, file, row,
          lines[row].substr(0, equals + 3) + found.prefix().str() + wrong + found.suffix().str(),
          args);
    }
  }
}

TEST(Ranges, OfEveryNumberInTheDemoFiles) {
  const Scratch scratch;
  copy_demo(scratch);
  const auto at = [&](const std::string& name) { return (scratch / name).string(); };
  for (const char* name : {"two-way-armature", "dynamic-piezo-hybrid", "planar"}) {
    const std::string earphone = std::string(name) + ".earphone.toml";
    check_toml(scratch, earphone, {"deviation", at(earphone), "--to", "6"});
    const std::string circuit = std::string(name) + ".circuit.toml";
    check_toml(scratch, circuit, {"solve", at(circuit)});
  }
  for (const char* name : {"attenuator-engaged", "bare-output", "three-wire-cable"}) {
    const std::string chain = std::string(name) + ".chain.toml";
    check_toml(scratch, chain, {"deviation", at("planar.csv"), "--to", at(chain)});
  }
}

/// Every cell of a row in the middle of a table.
void check_table(const Scratch& scratch, const std::string& file, const std::string& text,
                 const std::vector<std::string>& args) {
  scratch.write(file, text);
  const auto lines = lines_of(text);
  const std::size_t row = lines.size() / 2 + 1;
  std::vector<std::string> cells;
  std::istringstream stream(lines[row]);
  for (std::string cell; std::getline(stream, cell, ',');) cells.push_back(cell);
  for (std::size_t column = 0; column < cells.size(); ++column)
    for (const auto& wrong : beyond) {
      if (wrong == "1e-300" && column > 0) continue;
      std::string changed;
      for (std::size_t i = 0; i < cells.size(); ++i)
        changed += (i > 0 ? "," : "") + (i == column ? wrong : cells[i]);
      expect_refused_at(scratch, file, row, changed, args);
    }
}

TEST(Ranges, OfEveryColumnOfATable) {
  const Scratch scratch;
  copy_demo(scratch);
  const auto at = [&](const std::string& name) { return (scratch / name).string(); };
  check_table(scratch, "polar.csv",
              "frequency_hz,magnitude_ohm,phase_deg,uncertainty_ohm\n20,16,1,0.1\n100,17,2,0.1\n"
              "1000,18,3,0.1\n10000,19,4,0.1\n20000,20,5,0.1\n",
              {"deviation", at("polar.csv"), "--to", "6"});
  check_table(scratch, "parts.csv",
              "frequency_hz,real_ohm,imag_ohm\n20,16,1\n100,17,2\n1000,18,3\n10000,19,4\n",
              {"deviation", at("parts.csv"), "--to", "6"});
  check_table(scratch, "response.csv",
              "frequency_hz,magnitude_db\n20,100\n100,101\n1000,102\n10000,99\n20000,90\n",
              {"deviation", at("planar.csv"), "--to", "6", "--response", at("response.csv")});
  check_table(scratch, "readings.csv",
              "frequency_hz,volt_both,volt_load\n20,0.5,0.3\n100,0.5,0.31\n1000,0.5,0.3\n"
              "10000,0.5,0.29\n20000,0.5,0.28\n",
              {"acquire", "readings", at("readings.csv"), "--reference", "22"});
  check_table(scratch, "noise.csv",
              "frequency_hz,volt_per_root_hz\n20,1e-8\n100,1e-8\n1000,1e-8\n10000,1e-8\n",
              {"hiss", at("bare-output.chain.toml"), at("planar.earphone.toml"), "--noise-spectrum",
               at("noise.csv")});
  scratch.write("table.chain.toml",
                "[source]\noutput_ohm = 1\nopen_volt = 2\ninput_volt = 2\ngain_db = [0]\n"
                "[source.volume]\nlaw = \"table\"\nfile = \"travel.csv\"\n");
  check_table(scratch, "travel.csv",
              "travel_percent,gain_db,imbalance_db\n0,-80,1\n25,-40,1\n50,-20,0.5\n100,0,0.1\n",
              {"headroom", at("table.chain.toml"), at("planar.earphone.toml")});
}

TEST(Ranges, ASignOfMissingDataIsNoLevel) {
  const Scratch scratch;
  const auto file =
      scratch.write("a.csv", "frequency_hz,magnitude_db\n20,100\n1000,-999\n20000,9\n");
  expect_refused(run({"deviation", demo("planar.csv"), "--to", "6", "--response", file}),
                 "a.csv:3:6: magnitude_db is -999, beyond anything physical; check its unit; "
                 "decibels go from -300 to 300");
}

}  // namespace
}  // namespace ohmtilt::test
