// How numbers and sentences look in everything that the commands print: on the demo data, on random
// earphones and chains, in --help and on the page.
#include <gtest/gtest.h>

#include <regex>
#include <set>

#include <tools/ohmtilt/program/program.h>

#include "tests/cli/program.h"
#include "tests/cli/random_files.h"

namespace ohmtilt::test {
namespace {

struct Rule {
  const char* what;
  std::regex broken;
};

const std::vector<Rule>& rules() {
  static const std::vector<Rule> all = [] {
    const auto rule = [](const char* what, const char* pattern) {
      return Rule{what, std::regex(pattern, std::regex::optimize)};
    };
    return std::vector<Rule>{
        rule("an exponent below 1e6", R"((^|[^\w.])\d+(\.\d+)?e(-\d|\+?0?[0-5]\b))"),
        rule("a minus zero", R"((^|[^\w.])-0(\.0+)?($|[^\d.\w]))"),
        rule("a sentence that ends twice", R"([^.]\.\.($|[^.])|\. \.|\.;|;\.|,\.|,,|;;)"),
        rule("is none", R"(\bis none\b)"),
        rule("a unit at its number", R"((^|[^\w.])\d+(\.\d+)?(dB|kHz|Hz|ohm|ms|mW|mA)\b)"),
        rule("a frequency in two forms", R"((^|[^\w.-])(\d{4,}(\.\d+)? Hz|0\.\d+ kHz))"),
        rule("decibels of too many digits", R"((^|[^\w.])(0\.[1-9]\d{2,}|[1-9]\d*\.\d{3,}) dB)"),
    };
  }();
  return all;
}

std::string line_around(const std::string& text, std::ptrdiff_t at) {
  const auto place = static_cast<std::size_t>(at);
  const auto start = place == 0 ? std::string::npos : text.rfind('\n', place - 1);
  return text.substr(start == std::string::npos ? 0 : start + 1,
                     text.find('\n', place) - (start == std::string::npos ? 0 : start + 1));
}

/// A unit stands behind a number, or behind the name of what it measures and a comma.
void expect_numbers_before_units(const std::string& text) {
  static const std::regex unit(R"((\S+)[ \n(]+(dB|kHz|mW|mA|mV|ms)\b)");
  static const std::regex before(
      R"(.*[\d.,±\u221e]$|.*[({]?(in|per|re|or|of|many|than|and)$|.*\|)");
  for (std::sregex_iterator at(text.begin(), text.end(), unit), end; at != end; ++at)
    EXPECT_TRUE(std::regex_match((*at)[1].str(), before)) << line_around(text, at->position());
}

void expect_style(const std::string& text) {
  for (const auto& rule : rules()) {
    std::smatch found;
    EXPECT_FALSE(std::regex_search(text, found, rule.broken))
        << rule.what << ": " << line_around(text, found.position());
  }
  expect_numbers_before_units(text);
}

/// What a run says; of a refusal, which quotes the numbers that were given, nothing.
void expect_style_of(const std::vector<std::string>& args) {
  std::string line;
  for (const auto& arg : args) line += arg + " ";
  SCOPED_TRACE(line);
  const Ran ran = run(args);
  ASSERT_LE(ran.status, 1) << ran.err;
  expect_style(ran.out);
  expect_style(ran.err);
}

const std::vector<std::string>& earphones() {
  static const std::vector<std::string> names{"five-armature",           "two-way-armature",
                                              "dynamic-armature-hybrid", "dynamic-piezo-hybrid",
                                              "single-dynamic",          "planar"};
  return names;
}

TEST(Style, HoldsOnTheDemoData) {
  const std::string off = demo("bare-output.chain.toml"),
                    on = demo("attenuator-engaged.chain.toml"),
                    wires = demo("three-wire-cable.chain.toml");
  for (const auto& name : earphones()) {
    const auto ear = demo(name + ".earphone.toml");
    expect_style_of({"deviation", ear, "--from", off, "--to", on, "--limit-db", "1"});
    expect_style_of({"headroom", on, ear, "--against", off});
    expect_style_of({"hiss", off, ear, "--against", on, "--ambient", "60"});
    expect_style_of({"crosstalk", wires, ear});
    expect_style_of({"inspect", demo(name + ".csv")});
    expect_style_of({"solve", demo(name + ".circuit.toml")});
    expect_style_of({"damping", demo(name + ".circuit.toml"), "--from", off, "--to", on});
  }
}

TEST(Style, HoldsOfTheOtherCommands) {
  const std::string two_way = demo("two-way-armature.csv"), bench = demo("bench/");
  expect_style_of({"survey", (source_dir() / "impedance-curves").string()});
  expect_style_of({"pad", two_way, "--source", "0.3", "--attenuation", "10", "--topology", "L"});
  expect_style_of({"pad", two_way, "--source", "0.3", "--steps", "0,6,12"});
  expect_style_of({"equalize", two_way, "--to", "6"});
  expect_style_of({"flatten", two_way, "--source", "10", "--branches", "1"});
  expect_style_of({"model", demo("single-dynamic.csv")});
  expect_style_of({"acquire", "readings", bench + "readings.csv", "--reference", "22"});
  expect_style_of({"acquire", "source", bench + "loads.csv", "--meter-percent", "0.5"});
  const Scratch scratch;
  expect_style_of({"acquire", "stimulus", "--seconds", "1", "--write", scratch / "s.wav"});
}

TEST(Style, HoldsOnRandomInputs) {
  for (unsigned seed = 1; seed <= 50; ++seed) {  // 200 runs
    RandomFiles files(seed);
    const auto ear = files.earphone(), a = files.chain("a.chain.toml"),
               b = files.chain("b.chain.toml");
    expect_style_of({"deviation", ear, "--from", a, "--to", b, "--limit-db", "1"});
    expect_style_of({"headroom", a, ear, "--against", b});
    expect_style_of({"hiss", a, ear, "--against", b});
    expect_style_of({"crosstalk", a, ear, "--against", b});
  }
}

void collect_help(const cli::CommandFacts& command, std::vector<std::string>& paths) {
  if (command.commands.empty()) paths.push_back(command.path);
  for (const auto& sub : command.commands) collect_help(sub, paths);
}

TEST(Style, HoldsOfEveryHelp) {
  std::vector<std::string> paths;
  collect_help(cli::program_facts(), paths);
  for (const auto& path : paths) {
    std::vector<std::string> args;
    std::istringstream stream(path.substr(std::string("ohmtilt").size()));
    for (std::string word; stream >> word;) args.push_back(word);
    args.push_back("--help");
    expect_style_of(args);
  }
}

/// The page's text, a line a tag.
std::string text_of(const std::string& page) {
  const std::string body = page.substr(page.find("<body>"));
  std::string seen;
  for (std::size_t at = 0; at < body.size();) {
    const auto svg = std::min(body.find("<svg", at), body.size());
    seen += body.substr(at, svg - at);
    at = svg == body.size() ? svg : body.find("</svg>", svg) + 6;
  }
  return std::regex_replace(seen, std::regex("<[^>]*>"), "\n");
}

// The figure's title and the sentence above it: one number.
TEST(Style, HoldsOnThePageAndItsFigures) {
  for (const auto& name : {"two-way-armature", "single-dynamic"}) {
    SCOPED_TRACE(name);
    const Scratch scratch;
    const auto page = scratch / "r.html";
    ASSERT_EQ(run({"report", demo("attenuator-engaged.chain.toml"),
                   demo(std::string(name) + ".earphone.toml"), "-o", page})
                  .status,
              0);
    const std::string text = text_of(contents(page));
    expect_style(text);
    std::smatch title, sentence;
    ASSERT_TRUE(std::regex_search(
        text, title, std::regex(R"(instead of [^:]*: [+-](\d+\.\d+ dB at \d\S* k?Hz))")));
    EXPECT_NE(text.find("by " + title[1].str()), std::string::npos) << title[0];
  }
}

}  // namespace
}  // namespace ohmtilt::test
