#include <algorithm>
#include <cmath>
#include <numbers>

#include <ohmtilt/base/array.h>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::vector<std::string> equalize_on_demo{"equalize", demo("two-way-armature.csv"), "--to",
                                                "6"};

TEST(EqualizeCommand, AnswersInTextThatCanBeQuoted) {
  const Ran ran = run(equalize_on_demo);
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  for (const char* part :
       {"6 ohm instead of 0 ohm", "5 filters bring the span", "before the filters, or they clip",
        "peaking", "On average the level changes", "48000 samples per second"})
    EXPECT_NE(ran.out.find(part), std::string::npos) << part << "\n" << ran.out;
}

TEST(EqualizeCommand, KeepsItsJsonKeys) {
  const auto json = run(with(equalize_on_demo, {"--json"})).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{
                            "tool", "version", "command", "earphone", "from", "to",
                            "sample_rate_hz", "filters", "lead_level_db", "level_change_db",
                            "residual_span_db", "residual_rms_db", "frequency_hz", "deviation_db",
                            "correction_db", "residual_db", "fir", "warnings"}));
  ASSERT_EQ(json["filters"].size(), 5u);
  for (const auto& filter : json["filters"]) {
    EXPECT_EQ(keys(filter), (std::vector<std::string>{"kind", "hz", "gain_db", "q", "b", "a"}));
    EXPECT_EQ(filter["b"].size(), 3u);
    EXPECT_EQ(filter["a"].size(), 3u);
    EXPECT_EQ(filter["a"][0], 1);
  }
  EXPECT_LE(json["lead_level_db"], 0);
  EXPECT_TRUE(json["fir"].is_null());
  for (const char* array : {"frequency_hz", "deviation_db", "correction_db", "residual_db"})
    EXPECT_EQ(json[array].size(), 480u) << array;
}

// The correction it reports is what its coefficients do, by the definition of a transfer function.
TEST(EqualizeCommand, ReportsWhatItsCoefficientsDo) {
  const auto json = run(with(equalize_on_demo, {"--json"})).json();
  for (const std::size_t i : {0u, 200u, 479u}) {
    const double angle = 2 * std::numbers::pi * json["frequency_hz"][i].get<double>() / 48000;
    const Complex z = std::polar(1.0, -angle);
    Complex product = 1;
    for (const auto& filter : json["filters"]) {
      const auto value = [&](const char* key) {
        const auto p = filter[key].get<std::vector<double>>();
        return p[0] + z * (p[1] + z * p[2]);
      };
      product *= value("b") / value("a");
    }
    EXPECT_NEAR(json["correction_db"][i].get<double>(), 20 * std::log10(std::abs(product)), 1e-8);
  }
}

TEST(EqualizeCommand, LeavesOfTheDeviationCommandsCurveWhatItSays) {
  const auto json = run(with(equalize_on_demo, {"--json"})).json();
  const auto deviation = run({"deviation", demo("two-way-armature.csv"), "--to", "6", "--json"})
                             .json()["cases"][0]["deviation_db"];
  double low = INFINITY;
  double high = -INFINITY;
  for (std::size_t i = 0; i < 480; ++i) {
    const double left = deviation[i].get<double>() + json["correction_db"][i].get<double>();
    low = std::min(low, left);
    high = std::max(high, left);
  }
  EXPECT_NEAR(high - low, json["residual_span_db"].get<double>(), 1e-9);
}

TEST(EqualizeCommand, TakesItsOptions) {
  const auto none = run(with(equalize_on_demo, {"--filters", "0", "--json"})).json();
  EXPECT_EQ(none["filters"].size(), 0u);
  EXPECT_EQ(none["lead_level_db"], 0);
  const auto cut = run(with(equalize_on_demo, {"--cut-only", "--json"})).json();
  EXPECT_EQ(cut["lead_level_db"], 0);
  for (const auto& filter : cut["filters"]) EXPECT_LE(filter["gain_db"], 0);
  const auto slow = run(with(equalize_on_demo, {"--sample-rate", "32000", "--json"})).json();
  EXPECT_EQ(slow["sample_rate_hz"], 32000);
  EXPECT_EQ(slow["warnings"].size(), 1u);
  const std::size_t points = slow["frequency_hz"].size();
  EXPECT_LE(slow["frequency_hz"][points - 1], 16000);
}

TEST(EqualizeCommand, KeepsTheLimitsOfItsFilters) {
  const auto json = run(with(equalize_on_demo, {"--largest-gain", "0.5", "--q", "0.8-3",
                                                "--filter-band", "200-6000", "--json"}))
                        .json();
  ASSERT_FALSE(json["filters"].empty());
  for (const auto& filter : json["filters"]) {
    EXPECT_LE(std::abs(filter["gain_db"].get<double>()), 0.5);
    EXPECT_GE(filter["hz"].get<double>(), 200 * (1 - 1e-12));
    EXPECT_LE(filter["hz"].get<double>(), 6000 * (1 + 1e-12));
    if (filter["kind"] != "peaking") continue;
    EXPECT_GE(filter["q"].get<double>(), 0.8 * (1 - 1e-12));
    EXPECT_LE(filter["q"].get<double>(), 3 * (1 + 1e-12));
  }
  expect_refused(run(with(equalize_on_demo, {"--q", "3-1"})), "--q \"3-1\"");
  expect_refused(run(with(equalize_on_demo, {"--q", "some"})), "--q \"some\"");
  expect_refused(run(with(equalize_on_demo, {"--largest-gain", "0"})), "gain");
  expect_refused(run(with(equalize_on_demo, {"--filter-band", "23000-24000"})), "23000");
}

TEST(EqualizeCommand, SaysTheLevelBeforeTheFiltersOnTheSafeSide) {
  const auto json = run(with(equalize_on_demo, {"--json"})).json();
  const std::string text = run(equalize_on_demo).out;
  const auto at = text.find("Lower the level by ");
  ASSERT_NE(at, std::string::npos) << text;
  EXPECT_GE(std::stod(text.substr(at + 19)), -json["lead_level_db"].get<double>());
}

TEST(EqualizeCommand, WritesTheFiltersAndTheNumbersBehindTheFigure) {
  const Scratch scratch;
  const std::string table = scratch / "filters.csv";
  const std::string numbers = scratch / "numbers.csv";
  EXPECT_EQ(run(with(equalize_on_demo, {"--write", table, "--csv", numbers})).status, 0);
  const auto json = run(with(equalize_on_demo, {"--json"})).json();
  const auto rows = csv_rows(table);
  ASSERT_EQ(rows.size(), 5u);
  EXPECT_NE(contents(table).find("# lead_level_db: -"), std::string::npos) << contents(table);
  EXPECT_EQ(rows[0].at("kind"), json["filters"][0]["kind"].get<std::string>());
  EXPECT_EQ(std::stod(rows[4].at("frequency_hz")), json["filters"][4]["hz"].get<double>());
  EXPECT_EQ(std::stod(rows[4].at("a2")), json["filters"][4]["a"][2].get<double>());
  EXPECT_EQ(contents(numbers).substr(0, contents(numbers).find('\n')),
            "frequency_hz,deviation_db,correction_db,residual_db");
  EXPECT_EQ(csv_rows(numbers).size(), 480u);
  EXPECT_EQ(run(with(equalize_on_demo, {"--write", table})).status, 3);  // it exists
}

TEST(EqualizeCommand, DesignsAFir) {
  const Scratch scratch;
  const std::string wav = scratch / "correction.wav";
  const auto json = run(with(equalize_on_demo,
                             {"--fir", wav, "--taps", "2047", "--fir-phase", "linear", "--json"}))
                        .json();
  EXPECT_EQ(keys(json["fir"]), (std::vector<std::string>{
                                   "taps", "phase", "lead_level_db", "delay_ms", "residual_span_db",
                                   "residual_rms_db", "correction_db", "residual_db"}));
  EXPECT_EQ(json["fir"]["taps"], 2047);
  EXPECT_EQ(json["fir"]["phase"], "linear");
  EXPECT_LT(json["fir"]["residual_span_db"], 0.1);
  EXPECT_LE(json["fir"]["lead_level_db"], 0);
  EXPECT_NEAR(json["fir"]["delay_ms"].get<double>(), 1023 / 48.0, 1e-9);
  EXPECT_GT(std::filesystem::file_size(wav), 4 * 2047u);
  EXPECT_EQ(run(with(equalize_on_demo, {"--fir", wav})).status, 3);  // it exists
}

TEST(EqualizeCommand, RefusesWhatCannotBe) {
  expect_refused(run({"equalize", demo("planar.csv")}), "--to");
  expect_refused(run(with(equalize_on_demo, {"--filters", "21"})), "0 to 20");
  expect_refused(run(with(equalize_on_demo, {"--filters", "many"})), "--filters");
  expect_refused(run(with(equalize_on_demo, {"--sample-rate", "0"})), "8000 to 768000");
  expect_refused(run(with(equalize_on_demo, {"--sample-rate", "nan"})), "--sample-rate");
  expect_refused(run(with(equalize_on_demo, {"--taps", "100"})), "--fir FILE.wav");
  const Scratch scratch;
  const std::string wav = scratch / "x.wav";
  expect_refused(run(with(equalize_on_demo, {"--fir", wav, "--taps", "7"})), "16 to 65535");
  expect_refused(run(with(equalize_on_demo, {"--fir", wav, "--fir-phase", "zero"})),
                 "minimum or linear");
  expect_refused(
      run(with(equalize_on_demo, {"--fir", wav, "--fir-phase", "linear", "--taps", "100"})),
      "odd number");
  expect_refused(run(with(equalize_on_demo, {"--fir", wav, "--sample-rate", "44100.5"})),
                 "whole number");
  expect_refused(run({"equalize", "no-such-file.csv", "--to", "6"}), "no-such-file.csv");
  EXPECT_FALSE(std::filesystem::exists(wav));
}

TEST(EqualizeCommand, IsTheSameTwice) {
  EXPECT_EQ(run(with(equalize_on_demo, {"--json"})).out,
            run(with(equalize_on_demo, {"--json"})).out);
}

}  // namespace
}  // namespace ohmtilt::test
