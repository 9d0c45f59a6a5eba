// What is said in words is true of the JSON beside it, and what is printed as a limit passes the
// program's own check: deviation, headroom, hiss, crosstalk, survey on random files.
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>
#include <regex>

#include "tests/cli/program.h"
#include "tests/cli/random_files.h"

namespace ohmtilt::test {
namespace {

/// The numbers and words that pattern captures, or a failure.
std::vector<std::string> captured(const std::string& text, const std::string& pattern) {
  std::smatch match;
  if (!std::regex_search(text, match, std::regex(pattern))) {
    ADD_FAILURE() << "no " << pattern << " in\n" << text;
    return {};
  }
  return {match.begin() + 1, match.end()};
}

bool says(const std::string& text, const std::string& pattern) {
  return std::regex_search(text, std::regex(pattern));
}

/// "7.08 kHz", "3.2 mV" in the unit without its prefix.
double quantity(const std::string& number, const std::string& unit) {
  static const std::map<char, double> factors{{'k', 1e3},  {'m', 1e-3},  {'u', 1e-6},
                                              {'n', 1e-9}, {'p', 1e-12}, {'f', 1e-15}};
  const double factor = unit == "Hz" || unit.size() == 1 ? 1 : factors.at(unit[0]);
  return std::stod(number) * factor;
}

/// Three significant digits.
void expect_digits(double told, double wanted) {
  EXPECT_NEAR(told, wanted, 0.00501 * std::abs(wanted) + 1e-12);
}

/// What is said of a gauge of decibels with so many decimals.
void expect_db(double told, double wanted, int decimals = 2) {
  EXPECT_NEAR(told, wanted, 0.5 * std::pow(10, -decimals) * 1.0001);
}

/// Two significant digits, never more than it is.
void expect_rounded_down(double told, double wanted) {
  EXPECT_LE(told, wanted);
  EXPECT_GE(told, 0.9 * wanted);
}
void expect_rounded_up(double told, double wanted) {
  EXPECT_GE(told, wanted);
  EXPECT_LE(told, 1.1 * wanted + 1e-12);
}

struct Both {
  Ran text;
  OrderedJson json;
};

Both both(std::vector<std::string> args) {
  Ran text = run(args);
  args.push_back("--json");
  const Ran json = run(args);
  EXPECT_EQ(text.status, json.status);
  EXPECT_NE(text.status, 2) << text.err;
  return {std::move(text), json.json()};
}

// ---- deviation ----------------------------------------------------------------------------------

void check_change(const std::string& out, const char* verb, double db, double hz) {
  if (says(out, "The response (rises|falls) (everywhere|by [0-9.]+ dB everywhere)")) return;
  if (db < 0.005) {
    EXPECT_TRUE(says(out, std::string(verb) + " nowhere|changes nowhere")) << out;
    return;
  }
  const auto told = captured(out, std::string(verb) + " by ([0-9.]+) dB at ([0-9.]+) (k?Hz)");
  if (told.empty()) return;
  expect_db(std::stod(told[0]), db);
  expect_digits(quantity(told[1], told[2]), hz);
}

const char* verdict(double span_db) {
  if (span_db < 0.3) return "probably inaudible";
  if (span_db < 1) return "small: at most just audible in direct comparison";
  return span_db < 3 ? "audible as a change of tonal balance" : "a clear change of character";
}

TEST(TrueText, OfDeviation) {
  RandomFiles files(1);
  int beyond = 0, found = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const std::string earphone = files.curve();
    const double from = files.coin() ? 0 : files.between(0.05, 30), to = files.between(0.05, 200);
    const double limit = files.between(0.02, 5);
    const std::vector<std::string> args{
        "deviation", earphone, "--from",       files.text(from), "--points",
        "60",        "--to",   files.text(to), "--limit-db",     files.text(limit)};
    const Both answer = both(args);
    const std::string& out = answer.text.out;
    const OrderedJson& one = answer.json["cases"][0];
    SCOPED_TRACE(out);
    check_change(out, "rises", number(one["rise"]["db"]), number(one["rise"]["hz"]));
    check_change(out, "falls", -number(one["fall"]["db"]), number(one["fall"]["hz"]));
    const double span = number(one["span_db"]);
    expect_db(std::stod(captured(out, "a span of ([0-9.]+) dB").at(0)), span);
    EXPECT_NE(out.find(verdict(span)), std::string::npos);
    for (const auto& [words, key] :
         {std::pair("level change at 1 kHz", "level_change_db"),
          std::pair("span after smoothing over 1 ERB", "erb_span_db"),
          std::pair("rms over log frequency", "rms_db"),
          std::pair("worst case, .Z. of any phase from [0-9.]+ ohm up", "bound_db")})
      expect_db(std::stod(captured(out, std::string(words) + " +([-+0-9.]+) dB").at(0)),
                number(one[key]));
    EXPECT_GE(number(one["bound_db"]), span - 1e-9);
    EXPECT_EQ(answer.text.status, span > limit ? 1 : 0);
    EXPECT_EQ(says(out, "The span of [0-9.]+ dB exceeds the limit of [0-9.]+ dB"), span > limit);
    beyond += span > limit;
    // The highest output impedance, as printed, keeps the limit: rounded down, by its own check.
    const OrderedJson& ohm = answer.json["largest_source"]["ohm"];
    EXPECT_EQ(says(out, "up to 1 Mohm keeps"), ohm.is_null());
    if (ohm.is_null()) continue;
    ++found;
    const auto told = captured(out, "from ([0-9.]+) ohm up to ([0-9.]+) ohm keeps the span");
    expect_rounded_down(std::stod(told.at(1)), number(ohm));
    EXPECT_GE(std::stod(told.at(1)), from);
    auto check = args;
    for (const std::string& printed : {told.at(1), ohm.dump()}) {
      check[7] = printed;
      EXPECT_EQ(run(check).status, 0) << printed;
    }
  }
  EXPECT_GT(beyond, 40);
  EXPECT_GT(found, 100);
}

// Swap of the sources negates what the program says of a file.
TEST(TrueText, OfDeviationHoldsBackwards) {
  RandomFiles files(2);
  for (int trial = 0; trial < 60; ++trial) {
    const std::string earphone = files.curve();
    const std::string a = files.chain("a.chain.toml"), b = files.chain("b.chain.toml");
    const auto there =
        run({"deviation", earphone, "--from", a, "--to", b, "--points", "40", "--json"})
            .json()["cases"][0];
    const auto back =
        run({"deviation", earphone, "--from", b, "--to", a, "--points", "40", "--json"})
            .json()["cases"][0];
    for (std::size_t i = 0; i < 40; ++i)
      EXPECT_NEAR(number(there["deviation_db"][i]), -number(back["deviation_db"][i]), 1e-9);
    EXPECT_NEAR(number(there["level_change_db"]), -number(back["level_change_db"]), 1e-9);
    EXPECT_NEAR(number(there["bound_db"]), number(back["bound_db"]), 1e-9);
  }
}

// ---- headroom -----------------------------------------------------------------------------------

void check_headroom_sentence(const std::string& out, const OrderedJson& target) {
  const double spare = number(target["headroom_db"]);
  EXPECT_EQ(says(out, "dB above the peaks"), spare >= 0);
  if (spare >= 0)
    return expect_rounded_down(
        std::stod(captured(out, "Headroom: ([0-9.]+) dB above the peaks").at(0)), spare);
  const auto told =
      captured(out,
               "Headroom: ([0-9.]+) dB short of the peaks of 85 dB programme, which reaches "
               "([-0-9.]+) dB");
  expect_rounded_up(std::stod(told.at(0)), -spare);
  EXPECT_LE(std::stod(told.at(1)), 85 + spare);
  EXPECT_NEAR(std::stod(told.at(1)), 85 + spare, 0.11);
}

void check_needs(const std::string& out, const OrderedJson& target) {
  const auto told = captured(out,
                             "needed at the earphone +([0-9.]+) ([munpf]?V), ([0-9.]+) "
                             "([munpf]?A), ([0-9.]+) ([munpf]?W)");
  if (told.empty()) return;
  expect_digits(quantity(told[0], told[1]), number(target["volt"]));
  expect_digits(quantity(told[2], told[3]), number(target["ampere"]));
  expect_digits(quantity(told[4], told[5]), number(target["milliwatt"]) / 1000);
}

/// "voltage from 20 Hz to 4.1 kHz and current from ...": true of every frequency well inside.
void check_stretches(const std::string& out, const OrderedJson& limits) {
  const std::string row = captured(out, "a tone is limited by +([^\n]*)").at(0);
  if (row.find("so on") != std::string::npos) return;
  const std::regex stretch("(voltage|current|earphone) from ([0-9.]+) (k?Hz) to ([0-9.]+) (k?Hz)");
  for (std::size_t i = 0; i < limits["frequency_hz"].size(); ++i) {
    const double hz = number(limits["frequency_hz"][i]);
    for (std::sregex_iterator one(row.begin(), row.end(), stretch); one != std::sregex_iterator();
         ++one)
      if (hz > 1.006 * quantity((*one)[2], (*one)[3]) &&
          hz < 0.994 * quantity((*one)[4], (*one)[5])) {
        EXPECT_EQ(limits["limited_by"][i], (*one)[1].str()) << hz << row;
      }
  }
}

void check_hearing(const std::string& out, const OrderedJson& json) {
  const double level = number(json["target"]["level_dba"]);
  const double minutes = number(json["niosh_minutes_a_day"]);
  expect_db(std::stod(captured(out, "Hearing: at ([-0-9.]+) dB\\(A\\)").at(0)), level, 1);
  // 480/2^((L - 85)/3) minutes and 40 h 10^((80 - L)/10): NIOSH (1998) and ITU-T H.870, by hand.
  EXPECT_NEAR(minutes, std::min(1440.0, 480 / std::exp2((level - 85) / 3)), 1e-6);
  EXPECT_EQ(out.find("is safe"), std::string::npos);
  if (minutes < 1440 && minutes >= 1) {
    const auto told = captured(out, "limit is about ([0-9.]+) (hours|minutes) a day");
    const double unit = told.at(1) == "hours" ? 60 : 1;
    expect_rounded_down(std::stod(told.at(0)) * unit, minutes);
  }
  EXPECT_EQ(says(out, "no listening time at all"), minutes < 1);
  if (!says(out, "a week")) return;
  const auto weekly = captured(out, "about ([0-9.]+) (hours|minutes) a week");
  expect_rounded_down(std::stod(weekly.at(0)) * (weekly.at(1) == "hours" ? 1 : 1 / 60.0),
                      40 * std::pow(10, (80 - level) / 10));
}

void check_gain_rows(const std::string& out, const OrderedJson& gain) {
  for (const auto& step : gain) {
    const std::string name = number(step["gain_db"]) == 0 ? "0 dB" : "\\+9 dB";
    const auto cells = captured(out, "\n  " + name + " +([-0-9.]+) dB +([-0-9.]+|not reached) ?%?");
    if (cells.empty() || cells[1] == "-") continue;  // a control in steps
    EXPECT_EQ(cells[1] == "not reached", step["travel_percent"].is_null());
    if (!step["travel_percent"].is_null())
      expect_db(std::stod(cells[1]), number(step["travel_percent"]), 1);
  }
}

TEST(TrueText, OfHeadroom) {
  RandomFiles files(3);
  for (int trial = 0; trial < 200; ++trial) {
    const double limit = files.between(1, 60) - 20;
    const Both answer = both({"headroom", files.chain(), files.earphone(), "--points", "30",
                              "--limit-db", files.text(limit)});
    const std::string& out = answer.text.out;
    const OrderedJson& target = answer.json["target"];
    SCOPED_TRACE(out);
    check_headroom_sentence(out, target);
    check_needs(out, target);
    check_stretches(out, answer.json["limits"]);
    check_hearing(out, answer.json);
    check_gain_rows(out, answer.json["gain"]);
    EXPECT_EQ(says(out, "It exceeds the limit"), number(target["headroom_db"]) < limit);
    EXPECT_EQ(answer.text.status, number(target["headroom_db"]) < limit ? 1 : 0);
  }
}

// ---- hiss ---------------------------------------------------------------------------------------

TEST(TrueText, OfHiss) {
  RandomFiles files(4);
  int audible = 0;
  for (int trial = 0; trial < 200; ++trial) {
    const Both answer = both({"hiss", files.chain(), files.earphone(), "--limit-db", "0"});
    const std::string& out = answer.text.out;
    const OrderedJson& json = answer.json;
    SCOPED_TRACE(out);
    double over = -1e9, where = 0;
    for (std::size_t i = 0; i < json["band_hz"].size(); ++i) {
      if (json["threshold_db"][i].is_null() || json["band_db"][i].is_null()) continue;
      const double here = number(json["band_db"][i]) - number(json["threshold_db"][i]);
      if (here > over) over = here, where = number(json["band_hz"][i]);
    }
    EXPECT_EQ(says(out, "Hiss is audible"), over > 0);
    EXPECT_EQ(answer.text.status, over > 0 ? 1 : 0);
    EXPECT_EQ(says(out, "It exceeds the limit"), over > 0);
    const auto told = captured(out,
                               "(?:up to|at least) ([0-9.]+) dB (?:above|below) the threshold "
                               "of hearing, (?:most|closest) at ([0-9.]+) (k?Hz)");
    if (over > 0)
      expect_rounded_up(std::stod(told.at(0)), over);
    else
      expect_rounded_down(std::stod(told.at(0)), -over);
    EXPECT_NEAR(quantity(told.at(1), told.at(2)), where, 0.02 * where);
    const std::size_t bands = json["audible_bands"].size();
    if (bands == 0)
      EXPECT_TRUE(says(out, "no third-octave is above"));
    else
      EXPECT_EQ(captured(out, "([a-z0-9]+) third-octaves? (?:are|is) above").at(0),
                bands == 1 ? "one" : std::to_string(bands));
    expect_db(std::stod(captured(out, "total +([-0-9.]+) dB\\(A\\)").at(0)),
              number(json["level_dba"]), 1);
    for (const auto& part : json["parts"])
      if (!part["level_dba"].is_null())
        expect_db(
            std::stod(
                captured(out, part["name"].get<std::string>() + " +([-0-9.]+) dB\\(A\\)").at(0)),
            number(part["level_dba"]), 1);
    const auto pad = captured(out, "leaves ([-0-9.]+) dB\\(A\\) \\(([-+0-9.]+) dB\\), ([a-z ]+);");
    expect_db(std::stod(pad.at(0)), number(json["pad"]["level_dba"]), 1);
    expect_db(std::stod(pad.at(1)), number(json["pad"]["level_dba"]) - number(json["level_dba"]),
              1);
    EXPECT_EQ(pad.at(2) == "still audible", json["pad"]["audible"].get<bool>());
    audible += over > 0;
  }
  EXPECT_GT(audible, 5);
  EXPECT_LT(audible, 195);
}

// ---- crosstalk ----------------------------------------------------------------------------------

const char* crosstalk_verdict(double db) {
  if (db >= 40) return "crosstalk is probably inaudible";
  if (db >= 25) return "crosstalk is small";
  return db >= 15 ? "crosstalk is audible in direct comparison"
                  : "crosstalk is audible: the stereo";
}

TEST(TrueText, OfCrosstalk) {
  RandomFiles files(5);
  for (int trial = 0; trial < 200; ++trial) {
    const double limit = files.between(10, 60);
    const std::vector<std::string> args{"crosstalk", files.chain(), files.earphone(), "--points",
                                        "12",        "--limit-db",  files.text(limit)};
    const Both answer = both(args);
    const std::string& out = answer.text.out;
    SCOPED_TRACE(out);
    std::vector<double> apart;
    for (const auto& db : answer.json["separation_db"]) apart.push_back(number(db));
    const double least = *std::min_element(apart.begin(), apart.end());
    const double most = *std::max_element(apart.begin(), apart.end());
    EXPECT_NEAR(number(answer.json["worst"]["db"]), least, 1e-12);
    const auto told = captured(
        out, "Channel separation is ([-0-9.]+) dB or more \\(lowest at ([0-9.]+) (k?Hz)\\)");
    expect_rounded_down(std::stod(told.at(0)), least);
    expect_digits(quantity(told.at(1), told.at(2)), number(answer.json["worst"]["hz"]));
    EXPECT_NE(out.find(crosstalk_verdict(least)), std::string::npos);
    expect_db(std::stod(captured(out, "smallest channel separation +([0-9.]+) dB").at(0)), least,
              1);
    expect_db(std::stod(captured(out, "largest channel separation +([0-9.]+) dB").at(0)), most, 1);
    EXPECT_EQ(answer.text.status, least < limit ? 1 : 0);
    EXPECT_EQ(says(out, "It exceeds the limit"), least < limit);
    auto check = args;
    check.back() = told.at(0);
    EXPECT_EQ(run(check).status, 0);  // what is printed passes its own check
  }
}

// ---- survey -------------------------------------------------------------------------------------

TEST(TrueText, OfSurvey) {
  RandomFiles files(6);
  for (int trial = 0; trial < 40; ++trial) {  // of five earphones each
    std::vector<std::string> args{"survey"};
    for (int i = 0; i < 5; ++i) args.push_back(files.curve("e" + std::to_string(i) + ".csv"));
    const double limit = files.between(0.1, 5);
    for (const std::string& more :
         {std::string("--sources"), std::string("1,10,100"), std::string("--points"),
          std::string("60"), std::string("--largest-source"), files.text(limit),
          std::string("--limit-db"), files.text(limit)})
      args.push_back(more);
    const Both answer = both(args);
    const std::string& out = answer.text.out;
    SCOPED_TRACE(out);
    double largest = 0, least = INFINITY;
    for (const auto& row : answer.json["span_db"])
      for (const auto& span : row) largest = std::max(largest, number(span));
    for (const auto& earphone : answer.json["earphones"])
      if (!earphone["largest_source"]["ohm"].is_null())
        least = std::min(least, number(earphone["largest_source"]["ohm"]));
    EXPECT_EQ(answer.text.status, largest > limit ? 1 : 0);
    EXPECT_EQ(says(out, "The largest span of [0-9.]+ dB exceeds the limit"), largest > limit);
    if (!std::isfinite(least)) continue;
    const auto told = captured(out, "Sources up to ([0-9.]+) ohm keep all 5 earphones within");
    expect_rounded_down(std::stod(told.at(0)), least);
    for (std::size_t i = 1; i <= 5; ++i)
      EXPECT_EQ(run({"deviation", args[i], "--to", told.at(0), "--points", "60", "--limit-db",
                     files.text(limit)})
                    .status,
                0);
  }
}

}  // namespace
}  // namespace ohmtilt::test
