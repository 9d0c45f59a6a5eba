// The report command: what its page holds, what it leaves out, what it refuses. That the page is
// valid HTML5 is asked of others in report_page.py.
#include <algorithm>
#include <cmath>
#include <regex>

#include "tests/cli/live_template.h"
#include "tests/cli/program.h"
#include "tests/cli/random_files.h"

namespace ohmtilt::test {
namespace {

struct WrittenReport {
  Ran ran;
  std::string page;
};

/// The report of these arguments, and its page.
WrittenReport report(std::vector<std::string> args) {
  const Scratch scratch;
  args.insert(args.begin(), "report");
  args.insert(args.end(), {"-o", (scratch / "report.html").string()});
  const Ran ran = run(args);
  return {ran, contents(scratch / "report.html")};
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (auto at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++found;
  return found;
}

bool holds(const std::string& text, const std::string& part) { return count(text, part) > 0; }

TEST(ReportCommand, HasTheDocumentedKeys) {
  const auto written = report({engaged, pair, "--against", bare, "--json"});
  ASSERT_EQ(written.ran.status, 0) << written.ran.err;
  const auto json = written.ran.json();
  EXPECT_EQ(keys(json),
            (std::vector<std::string>{"tool", "version", "command", "page", "chain", "against",
                                      "reference_hz", "earphones", "other_sources", "other_span_db",
                                      "unreadable", "not_given", "warnings"}));
  EXPECT_EQ(keys(json["earphones"][0]),
            (std::vector<std::string>{"title", "file", "level_change_db", "rise", "fall", "span_db",
                                      "whole_95_db", "largest_source", "headroom_db", "hiss_dba",
                                      "separation_db", "before", "after", "not_given"}));
  EXPECT_EQ(keys(json["earphones"][0]["after"]),
            (std::vector<std::string>{"hiss_over_threshold_db", "travel_percent", "imbalance_db",
                                      "headroom_db", "separation_db"}));
  EXPECT_EQ(json["against"], "Attenuator off");
}

TEST(ReportCommand, CarriesTheLivePartBelowAWholePage) {
  const Scratch scratch;
  const std::string live = scratch.write("live.html", live_template()).string();
  const auto plain = report({engaged, pair, "--against", bare});
  const auto with = report({engaged, pair, "--against", bare, "--live", "--live-template", live});
  ASSERT_EQ(with.ran.status, 0) << with.ran.err;
  const auto main_of = [](const std::string& page) {
    return page.substr(page.find("<main>"), page.find("</main>") - page.find("<main>"));
  };
  EXPECT_EQ(main_of(plain.page), main_of(with.page));
  EXPECT_FALSE(holds(plain.page, "<script") || holds(plain.page, "script-src"));
  EXPECT_TRUE(
      holds(with.page, "script-src 'sha256-A' 'wasm-unsafe-eval'; img-src blob:; style-src"));
  EXPECT_TRUE(holds(with.page, "'sha256-B'; base-uri 'none'"));
  EXPECT_TRUE(holds(with.page, "<template shadowrootmode=\"open\"><style>p{}</style>"));
  EXPECT_TRUE(holds(with.page, "\"to\":\"file attenuator-engaged.chain.toml\""));
  EXPECT_TRUE(holds(with.page, "\"from\":\"file bare-output.chain.toml\""));
  const auto alone = report({engaged, pair, "--live", "--live-template", live});
  EXPECT_TRUE(holds(alone.page, "\"from\":\"file attenuator-engaged.chain.toml | 1 off\""));
  expect_refused(report({engaged, pair, "--live-template", live}).ran, "--live");
}

TEST(ReportCommand, NamesTheEarphoneThatAWarningIsAbout) {
  const auto warnings_on = [](const std::vector<std::string>& earphones) {
    std::vector<std::string> args{engaged};
    args.insert(args.end(), earphones.begin(), earphones.end());
    args.push_back("--json");
    return report(args).ran.json()["warnings"].dump();
  };
  const std::string five = demo("five-armature.earphone.toml");
  const std::string bears = "the amplifier can give more than the 20 mW";
  EXPECT_TRUE(holds(warnings_on({five}), "\"" + bears));
  const std::string planar = demo("planar.earphone.toml");
  EXPECT_TRUE(holds(warnings_on({five, planar}), "Demo five armatures: " + bears));
}

// The commands are held against outside values in their own tests.
TEST(ReportCommand, SaysWhatTheCommandsSay) {
  const auto written = report({engaged, pair, "--against", bare, "--json"});
  const auto found = written.ran.json()["earphones"][0];
  const auto deviation =
      run({"deviation", pair, "--from", bare, "--to", engaged, "--json"}).json()["cases"][0];
  EXPECT_EQ(found["span_db"], deviation["span_db"]);
  EXPECT_EQ(found["whole_95_db"], deviation["whole_95_db"]);
  EXPECT_EQ(found["rise"], deviation["rise"]);
  EXPECT_EQ(found["level_change_db"], deviation["level_change_db"]);
  EXPECT_EQ(found["hiss_dba"], run({"hiss", engaged, pair, "--json"}).json()["level_dba"]);
  EXPECT_EQ(found["headroom_db"],
            run({"headroom", engaged, pair, "--json"}).json()["target"]["headroom_db"]);
  EXPECT_TRUE(holds(written.page,
                    "The response rises by 0.09 dB at 1.25 kHz and falls by 1.97 dB "
                    "at 7.08 kHz: a span of 2.05 dB, audible as a change of tonal "
                    "balance."));
}

/// The first sentence below the title, as a page has it.
std::string second_line(const std::string& text) {
  const auto start = text.find('\n') + 1;
  return std::regex_replace(text.substr(start, text.find('\n', start) - start), std::regex("'"),
                            "&#39;");
}

// The table and the sections on random chains and earphones: the numbers of the single commands.
TEST(ReportCommand, SaysTheNumbersOfTheSingleCommands) {
  for (unsigned seed = 1; seed <= 4; ++seed) {
    SCOPED_TRACE(seed);
    RandomFiles files(seed);
    const auto ear = files.earphone(), before = files.chain("a.chain.toml"),
               after = files.chain("b.chain.toml");
    const auto written = report({after, ear, "--against", before, "--json"});
    ASSERT_EQ(written.ran.status, 0) << written.ran.err;
    const auto found = written.ran.json()["earphones"][0];
    const auto of = [&](const char* key, const std::string& chain) {
      const auto headroom = run({"headroom", chain, ear, "--json"}).json();
      const auto crosstalk = run({"crosstalk", chain, ear, "--json"}).json();
      EXPECT_EQ(found[key]["headroom_db"], headroom["target"]["headroom_db"]);
      EXPECT_EQ(found[key]["travel_percent"], headroom["gain"][0]["travel_percent"]);
      EXPECT_EQ(found[key]["imbalance_db"], headroom["gain"][0]["imbalance_db"]);
      EXPECT_EQ(found[key]["separation_db"], crosstalk["worst"]["db"]);
      for (const char* command : {"headroom", "hiss"})
        EXPECT_TRUE(holds(written.page, second_line(run({command, chain, ear}).out))) << command;
    };
    of("before", before);
    of("after", after);
    const auto deviation = run({"deviation", ear, "--from", before, "--to", after}).out;
    const auto at = deviation.find("The response ");
    EXPECT_TRUE(holds(written.page, deviation.substr(at, deviation.find('\n', at) - at)));
  }
}

TEST(ReportCommand, TellsChainsOfOneTitleApart) {
  RandomFiles files(3);
  const auto ear = files.earphone(), a = files.chain("a.chain.toml"),
             b = files.chain("b.chain.toml");
  const auto written = report({a, ear, "--against", b, "--json"});
  EXPECT_EQ(written.ran.json()["chain"], "chain [a.chain.toml]");
  EXPECT_EQ(written.ran.json()["against"], "chain [b.chain.toml]");
  for (const char* command : {"headroom", "hiss", "crosstalk"}) {
    const auto plot = files.scratch() / (std::string(command) + ".svg");
    const Ran ran = run({command, a, ear, "--against", b, "--plot", plot});
    EXPECT_TRUE(holds(ran.out, "Against chain [b.chain.toml]")) << ran.out;
    EXPECT_TRUE(holds(contents(plot), "[b.chain.toml]") || holds(contents(plot), "b.chain"))
        << command;
  }
}

// Seven earphones on one page.
TEST(ReportPage, IsSmallEnoughToSend) {
  const auto written =
      report({engaged, (source_dir() / "impedance-curves").string(),
              (source_dir() / "tests/data/mechanical-dynamic.circuit.toml").string(), "--against",
              bare, "--json"});
  ASSERT_EQ(written.ran.json()["earphones"].size(), 7u);
  EXPECT_LT(written.page.size(), 1'500'000u);
  EXPECT_LT(written.page.find("<table"), written.page.find("<figure"));
  EXPECT_LT(written.page.find("figure-overview"), written.page.find("figure-chain"));
}

// `survey` is held against NumPy in tests/outside.
TEST(ReportCommand, SaysWhichOtherSourcesWouldDo) {
  const auto written = report({engaged, demo("planar.csv"), pair, "--against", bare, "--json"});
  const auto json = written.ran.json();
  const auto limit =
      run({"deviation", pair, "--from", bare, "--largest-source", "1", "--json"}).json();
  EXPECT_EQ(json["earphones"][0]["largest_source"], limit["largest_source"]);
  const auto survey = run({"survey", pair, "--from", bare, "--json"}).json();
  EXPECT_EQ(json["other_span_db"][0], survey["span_db"][0]);
  EXPECT_EQ(json["other_sources"], survey["sources"]);
  EXPECT_TRUE(holds(written.page, "keeps the span within 1 dB."));
  EXPECT_TRUE(holds(written.page, "keep both earphones within 1 dB, compared with "));
  EXPECT_TRUE(holds(written.page, "Other sources in place of Attenuator off"));
}

TEST(ReportCommand, ChecksALimitOnlyWhereItIsAsked) {
  const auto with = [&](const char* limit) { return report({engaged, pair, "--limit-db", limit}); };
  EXPECT_EQ(with("1").ran.status, 1);
  EXPECT_FALSE(with("1").page.empty());
  EXPECT_EQ(with("3").ran.status, 0);
  EXPECT_TRUE(holds(with("3").page, "within 3 dB"));
  expect_refused(with("0").ran, "is not allowed");
}

TEST(ReportCommand, PutsWhatChangesMostFirst) {
  const auto written = report(
      {engaged, demo("planar.earphone.toml"), pair, demo("five-armature.earphone.toml"), "--json"});
  const auto earphones = written.ran.json()["earphones"];
  for (std::size_t i = 1; i < earphones.size(); ++i)
    EXPECT_GE(earphones[i - 1]["span_db"].get<double>(), earphones[i]["span_db"].get<double>());
  const auto card = [&](const char* title) {
    return written.page.find(std::string("\">") + title + "</a></th>");
  };
  EXPECT_LT(card("Demo five armatures"), card("Demo two-way pair"));
  EXPECT_LT(card("Demo two-way pair"), card("Demo planar"));
  EXPECT_TRUE(holds(written.page,
                    "One of 3 earphones changes clearly in character; on 1 the change of tonal "
                    "balance is audible; on 1 it is probably inaudible."));
}

TEST(ReportCommand, TellsEarphonesOfOneTitleApart) {
  const Scratch scratch;
  const std::string text =
      "# title: same\nfrequency_hz,magnitude_ohm,phase_deg\n20,10,0\n20000,10,0\n";
  std::filesystem::create_directory(scratch.folder() / "below");
  const auto a = scratch.write("a.csv", text), b = scratch.write("b.csv", text);
  const auto c = scratch.write("below/b.csv", text);
  const auto earphones = report({"6", a, b, c, "--json"}).ran.json()["earphones"];
  EXPECT_EQ(earphones[0]["title"], "same [a.csv]");
  EXPECT_EQ(earphones[1]["title"], "same [" + scratch.folder().filename().string() + "/b.csv]");
  EXPECT_EQ(earphones[2]["title"], "same [below/b.csv]");
}

TEST(ReportCommand, TakesAFolderAsSurveyDoes) {
  const std::string folder = (source_dir() / "impedance-curves").string();
  const auto json = report({"6", folder, "--json"}).ran.json();
  EXPECT_EQ(json["earphones"].size(), run({"survey", folder, "--json"}).json()["earphones"].size());
  const Scratch scratch;
  scratch.write("good.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,10,0\n20000,10,0\n");
  const auto bad = scratch.write("bad.csv", "frequency_hz,magnitude_ohm\n20,ten\n");
  const auto some = report({"6", scratch.folder().string(), "--json"});
  ASSERT_EQ(some.ran.status, 0) << some.ran.err;
  EXPECT_EQ(some.ran.json()["unreadable"][0]["file"], bad.string());
  EXPECT_TRUE(holds(some.page, "Left out, because it could not be used: bad.csv"));
  EXPECT_FALSE(holds(some.page, scratch.folder().string())) << "a path of this machine";
  expect_refused(report({"6", bad}).ran, "bad.csv");
}

TEST(ReportCommand, HasATitleAndADateOnlyWhereGiven) {
  EXPECT_FALSE(holds(report({engaged, pair}).page, "class=\"date\""));
  const std::string page =
      report({engaged, pair, "--title", "Lab & bench", "--date", "26 November 2026"}).page;
  EXPECT_TRUE(holds(page, "<title>Lab &amp; bench</title>"));
  EXPECT_TRUE(holds(page, "<h1>Lab &amp; bench</h1><p class=\"date\">26 November 2026</p>"));
  EXPECT_TRUE(holds(page, "Attenuator on, compared with no attenuation; Demo two-way pair."));
}

TEST(ReportCommand, LeavesTheAttenuationOutToCompare) {
  const auto alone = report({engaged, pair, "--json"}).ran.json();
  const auto given = report({engaged, pair, "--against", bare, "--json"}).ran.json();
  EXPECT_EQ(alone["against"], "no attenuation");
  // The demo chains differ in the pad alone.
  EXPECT_NEAR(alone["earphones"][0]["span_db"].get<double>(),
              given["earphones"][0]["span_db"].get<double>(), 1e-12);
  EXPECT_EQ(report({bare, pair, "--json"}).ran.json()["against"], "an ideal source of 0 ohm");
}

TEST(ReportCommand, TellsTheConclusionFirst) {
  const std::string page = report({engaged, pair}).page;
  EXPECT_LT(page.find("a span of"), page.find("<figure"));
  EXPECT_LT(page.find(">Cautions<"), page.find("<figure"));
  for (const char* part : {"NIOSH", "audiologist", "What was assumed", "What was not given",
                           "Schematic from left to right: amplifier, stage 1: pad and earphone"})
    EXPECT_TRUE(holds(page, part)) << part;
}

TEST(ReportCommand, NamesWhatIsNotGivenAndWhatToAdd) {
  const auto written = report({"6", demo("planar.csv")});
  ASSERT_EQ(written.ran.status, 0) << written.ran.err;
  for (const char* key : {"open_volt", "noise_volt", "shared_return_ohm", "input_volt",
                          "sensitivity_db_per_volt", "response", "max_watt"})
    EXPECT_TRUE(holds(written.page, "<code>" + std::string(key) + "</code>")) << key;
  EXPECT_TRUE(holds(written.page, "to [source] of a chain file, written in place of 6"));
  EXPECT_FALSE(holds(written.page, "figure-1-level"));
  EXPECT_FALSE(holds(written.page, "figure-1-hiss"));
  EXPECT_TRUE(holds(written.page, "figure-1-response"));
}

TEST(ReportCommand, WarnsOfABiasWithoutASensitivityToo) {
  const Scratch scratch;
  const auto biased =
      scratch.write("b.chain.toml", "title = \"B\"\n[source]\noutput_ohm = 1\nbias_volt = 2\n");
  const std::string page = report({biased, demo("planar.csv")}).page;
  const auto caution = page.find("o not connect the earphone");
  EXPECT_LT(caution, page.find("<h1>"));
  EXPECT_EQ(count(page, "V of bias"), 1u) << "no note twice";
}

TEST(ReportCommand, ShowsACrosstalkWhereAReturnIsShared) {
  const Scratch scratch;
  const auto shared = scratch.write("s.chain.toml",
                                    "title = \"S\"\n[source]\noutput_ohm = 1\n"
                                    "shared_return_ohm = 0.1\n");
  const auto written = report({shared, pair, "--json"});
  EXPECT_TRUE(holds(written.page, "figure-1-channels"));
  EXPECT_EQ(written.ran.json()["earphones"][0]["separation_db"],
            run({"crosstalk", shared, pair, "--json"}).json()["worst"]["db"]);
}

TEST(ReportCommand, IsTheSameTwice) {
  const auto once = report({engaged, pair, demo("planar.csv")});
  const auto again = report({engaged, pair, demo("planar.csv")});
  ASSERT_FALSE(once.page.empty());
  EXPECT_EQ(once.page, again.page);
  EXPECT_FALSE(holds(once.page, source_dir().string())) << "a path of this machine";
}

TEST(ReportCommand, ReplacesOnlyWhenTold) {
  const Scratch scratch;
  const auto page = scratch.write("r.html", "old");
  const Ran kept = run({"report", engaged, pair, "-o", page});
  EXPECT_EQ(kept.status, 3);
  EXPECT_EQ(contents(page), "old");
  EXPECT_EQ(run({"report", engaged, pair, "--output", page, "--force"}).status, 0);
  EXPECT_EQ(contents(page).rfind("<!DOCTYPE html>\n<html lang=\"en\">", 0), 0u);
}

TEST(ReportCommand, RefusesWhatItCannotRead) {
  expect_refused(report({engaged, pair, demo("no-such.csv")}).ran, "no-such.csv");
  expect_refused(report({pair, pair}).ran, "earphone");
  expect_refused(report({engaged, pair, "--target", "loud"}).ran, "--target");
  expect_refused(report({engaged, pair, "--crest", "-3"}).ran, "crest");
  expect_refused(run({"report", engaged, pair}), "--output");
  for (const char* name : {"a.pdf", "a.txt", "a", ".html"})
    expect_refused(run({"report", engaged, pair, "-o", name}), "end it in .html or .htm");
  EXPECT_EQ(report({engaged, pair, demo("no-such.csv")}).page, "");
}

TEST(ReportPage, ColoursNothingByHand) {
  const std::string page = report({engaged, pair, demo("dynamic-armature-hybrid.csv")}).page;
  const std::string body = page.substr(page.find("<body>"));
  EXPECT_FALSE(std::regex_search(body, std::regex("(fill|stroke|color)=\"(#|rgb)")));
  EXPECT_TRUE(holds(body, "var(--series-0)"));
}

// ---- contrast ----------------------------------------------------------------------------------

/// Custom properties of the light and of the dark scheme, as the page's own style sheet has them.
struct Schemes {
  std::map<std::string, std::string> light, dark;
};

std::map<std::string, std::string> properties(const std::string& css) {
  std::map<std::string, std::string> found;
  const std::regex property("(--[a-z0-9-]+): (#[0-9a-f]{6})");
  for (std::sregex_iterator at(css.begin(), css.end(), property), end; at != end; ++at)
    found[(*at)[1]] = (*at)[2];
  return found;
}

Schemes schemes_of(const std::string& page) {
  const auto start = page.find("<style>");
  const auto dark = page.find("prefers-color-scheme: dark", start);
  const auto end = page.find("* {", dark);
  return {properties(page.substr(start, dark - start)), properties(page.substr(dark, end - dark))};
}

/// WCAG 2.1, "relative luminance": sRGB with the threshold 0.03928 as the recommendation prints it.
double luminance(const std::string& colour) {
  const auto channel = [&](std::size_t at) {
    const double value = std::stoi(colour.substr(at, 2), nullptr, 16) / 255.0;
    return value <= 0.03928 ? value / 12.92 : std::pow((value + 0.055) / 1.055, 2.4);
  };
  return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}

/// WCAG 2.1, "contrast ratio": (L1 + 0.05)/(L2 + 0.05), the lighter first.
double contrast(const std::string& a, const std::string& b) {
  const double first = luminance(a), second = luminance(b);
  return (std::max(first, second) + 0.05) / (std::min(first, second) + 0.05);
}

// Black on white is 21:1 by the definition's own words.
TEST(ReportPage, HasTheContrastOfWcag) {
  EXPECT_NEAR(contrast("#000000", "#ffffff"), 21, 1e-9);
  const Schemes schemes = schemes_of(report({engaged, pair}).page);
  for (const auto* scheme : {&schemes.light, &schemes.dark}) {
    ASSERT_GE(scheme->size(), 27u);
    for (const char* ground : {"--ground", "--paper"})
      for (const char* text : {"--text", "--quiet", "--accent", "--warn"})
        EXPECT_GE(contrast(scheme->at(text), scheme->at(ground)), 4.5) << text << " on " << ground;
    // Success criterion 1.4.11: graphics need 3:1.
    for (int series = 0; series < 8; ++series)
      EXPECT_GE(contrast(scheme->at("--series-" + std::to_string(series)), scheme->at("--paper")),
                3.0)
          << series;
    EXPECT_GE(contrast(scheme->at("--ink"), scheme->at("--paper")), 3.0);
    EXPECT_GE(contrast(scheme->at("--axis"), scheme->at("--paper")), 3.0);
  }
  EXPECT_NE(schemes.light.at("--ground"), schemes.dark.at("--ground"));
}

}  // namespace
}  // namespace ohmtilt::test
