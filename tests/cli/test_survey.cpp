// The survey command: keys, options, files that are there and files that are not.
#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

const std::string demos = (source_dir() / "impedance-curves").string();

/// Two points, 10 ohm and peak_ohm, behind the key lines of the project's own format.
std::string curve(const std::string& title, double peak_ohm = 40) {
  return "# title: " + title + "\n# quantity: impedance\nfrequency_hz,magnitude_ohm,phase_deg\n" +
         "20,10,0\n1000,10,0\n5000," + std::to_string(peak_ohm) + ",0\n20000,10,0\n";
}

TEST(SurveyCommand, HasTheDocumentedKeys) {
  const auto json = run({"survey", demos, "--sources", "1,6", "--json"}).json();
  EXPECT_EQ(keys(json), (Names{"tool", "version", "command", "earphones", "sources", "span_db",
                               "ranking", "unreadable", "warnings"}));
  ASSERT_EQ(json["earphones"].size(), 6u);
  EXPECT_EQ(keys(json["earphones"][0]), (Names{"title", "file", "largest_source"}));
  EXPECT_EQ(keys(json["earphones"][0]["largest_source"]), (Names{"limit_db", "ohm"}));
  EXPECT_EQ(keys(json["sources"][0]), (Names{"label", "output_ohm"}));
  EXPECT_EQ(json["sources"][1]["output_ohm"], 6);
  ASSERT_EQ(json["span_db"].size(), 6u);
  EXPECT_EQ(json["span_db"][0].size(), 2u);
  EXPECT_EQ(json["ranking"].size(), 6u);
  EXPECT_TRUE(json["unreadable"].empty());
}

TEST(SurveyCommand, AgreesWithDeviation) {
  const auto json = run({"survey", demos, "--from", "0.3", "--sources", "6", "--quantity", "rise",
                         "--anchor", "500", "--largest-source", "2", "--json"})
                        .json();
  for (std::size_t i = 0; i < 6; ++i) {
    const auto& earphone = json["earphones"][i];
    const auto one = run({"deviation", earphone["file"].get<std::string>(), "--from", "0.3", "--to",
                          "6", "--anchor", "500", "--largest-source", "2", "--json"})
                         .json();
    EXPECT_NEAR(json["span_db"][i][0].get<double>(), one["cases"][0]["span_db"].get<double>(),
                1e-11);
    EXPECT_NEAR(json["rise_db"][i][0].get<double>(), one["cases"][0]["rise"]["db"].get<double>(),
                1e-11);
    EXPECT_EQ(earphone["largest_source"], one["largest_source"]);
  }
}

TEST(SurveyCommand, HasAMatrixOfEachQuantity) {
  const Scratch scratch;
  scratch.write("a.csv", curve("a"));
  for (const auto& [name, key] : std::vector<std::pair<std::string, std::string>>{
           {"rise", "rise_db"}, {"fall", "fall_db"}, {"level-change", "level_change_db"}}) {
    const auto json =
        run({"survey", scratch.folder(), "--sources", "10", "--quantity", name, "--json"}).json();
    ASSERT_TRUE(json.contains(key));
    // 10 ohm before 10 ohm at 1 kHz, 40 ohm at 5 kHz: -6.0206 dB there, 20 lg(0.8/0.5) = 4.0824 dB.
    const double want = name == "rise" ? 4.0824 : name == "fall" ? 0 : -6.0206;
    EXPECT_NEAR(json[key][0][0].get<double>(), want, 0.01) << name;
  }
  expect_refused(run({"survey", scratch.folder(), "--quantity", "colour"}), "level-change");
}

TEST(SurveyCommand, FollowsTheQOfEachEarphone) {
  const auto json = run({"survey", demo("single-dynamic.circuit.toml"), demo("planar.circuit.toml"),
                         "--sources", "6", "--quantity", "q-change", "--json"})
                        .json();
  const auto one = run({"damping", demo("single-dynamic.circuit.toml"), "--to", "6", "--json"})
                       .json()["resonances"][0]["at"];
  const double change = 100 * (one[1]["q"].get<double>() / one[0]["q"].get<double>() - 1);
  EXPECT_NEAR(json["q_change_percent"][0][0].get<double>(), change, 1e-6);
  EXPECT_TRUE(json["q_change_percent"][1][0].is_null());
}

TEST(SurveyCommand, RanksTheMostSensitiveFirst) {
  const Scratch scratch;
  scratch.write("a.csv", curve("flatter", 12));
  scratch.write("b.csv", curve("bent", 80));
  const auto json = run({"survey", scratch.folder(), "--json"}).json();
  EXPECT_EQ(json["ranking"], (nlohmann::ordered_json{1, 0}));
  const std::string text = run({"survey", scratch.folder()}).out;
  EXPECT_LT(text.find("bent"), text.find("flatter"));
}

TEST(SurveyCommand, ListsWhatCannotBeRead) {
  const Scratch scratch;
  scratch.write("a.csv", curve("good"));
  scratch.write("b.csv", "frequency_hz,magnitude_ohm\n20,ten\n");
  scratch.write("c.earphone.toml", "impedance = \"missing.csv\"\n");
  scratch.write("d.csv", "frequency_hz,magnitude_ohm,phase_deg\n20,10,0\n200,10,0\n");
  scratch.write("good.response.csv", "not read at all");
  const Ran ran = run({"survey", scratch.folder(), "--json"});
  EXPECT_EQ(ran.status, 0);
  const auto json = ran.json();
  EXPECT_EQ(json["earphones"].size(), 1u);
  ASSERT_EQ(json["unreadable"].size(), 3u);
  EXPECT_EQ(keys(json["unreadable"][0]), (Names{"file", "error"}));
  EXPECT_EQ(json["unreadable"][0]["file"], (scratch / "b.csv").string());
  EXPECT_NE(json["unreadable"][1]["error"].get<std::string>().find("missing.csv"),
            std::string::npos);
  EXPECT_NE(json["unreadable"][2]["error"].get<std::string>().find("reference frequency"),
            std::string::npos);
  const Ran text = run({"survey", scratch.folder()});
  EXPECT_NE(text.out.find("Not in the table, 3 files:"), std::string::npos) << text.out;
  EXPECT_NE(text.out.find("d.csv: the reference frequency of 1000 Hz"), std::string::npos)
      << text.out;
}

TEST(SurveyCommand, RefusesWhereNothingIsLeft) {
  const Scratch scratch;
  expect_refused(run({"survey", scratch.folder()}), "holds no earphone");
  expect_refused(run({"survey", scratch / "missing"}), "no such folder");
  scratch.write("a.csv", "x");
  scratch.write("b.csv", "y");
  expect_refused(run({"survey", scratch.folder(), "--json"}), "none of the 2 files");
  expect_refused(run({"survey", scratch / "a.csv"}), "a.csv");
}

TEST(SurveyCommand, RefusesSourcesThatAreNone) {
  expect_refused(run({"survey", demos, "--sources", "1,,6"}), "empty place");
  expect_refused(run({"survey", demos, "--sources", "0,3"}), "write 0.3 with a point");
  expect_refused(run({"survey", demos, "--sources", "1,-6"}), "not physical");
  expect_refused(run({"survey", demos, "--chains", demo("planar.csv") + "x"}), "neither");
  expect_refused(run({"survey", demos, "--largest-source", "0"}), "0 dB is not allowed");
  expect_refused(run({"survey", demos, "--limit-db", "-1"}), "-1 dB is not allowed");
  std::string many = "1";
  for (int i = 0; i < 1000; ++i) many += ",1";
  expect_refused(run({"survey", demos, "--sources", many}), "too many");
}

TEST(SurveyCommand, SaysItsSentencesInFull) {
  const Ran q = run(
      {"survey", demo("single-dynamic.circuit.toml"), "--sources", "6", "--quantity", "q-change"});
  EXPECT_NE(q.out.find("The largest change of a Q (of resonances that ring, above 0.71): +"),
            std::string::npos)
      << q.out;
  EXPECT_NE(q.out.find("with 6 ohm."), std::string::npos) << q.out;
  const Ran two = run({"survey", demo("planar.csv"), demo("two-way-armature.csv")});
  EXPECT_NE(two.out.find("keep both earphones within 1 dB"), std::string::npos) << two.out;
}

TEST(SurveyCommand, CutsTitlesBetweenCharactersAndKeepsTheFile) {
  const Scratch scratch;
  std::string title;
  for (int i = 0; i < 40; ++i) title += "\u65e5\u672c\u8a9e ";
  scratch.write("a.csv", curve(title));
  scratch.write("b.csv", curve(title));
  const auto plot = scratch / "p.svg";
  const Ran ran = run({"survey", scratch.folder(), "--plot", plot});
  for (const auto& text : {ran.out, contents(plot)}) {
    EXPECT_NE(text.find("\u2026 [b.csv]"), std::string::npos) << text;
    EXPECT_EQ(text.find("\ufffd"), std::string::npos);
  }
  EXPECT_EQ(ran.out.find('?'), std::string::npos) << ran.out;
}

TEST(SurveyCommand, DrawsTheDemosTitlesWhole) {
  const Scratch scratch;
  const auto plot = scratch / "p.svg";
  ASSERT_EQ(run({"survey", demos, "--plot", plot}).status, 0);
  const auto json = run({"survey", demos, "--json"}).json();
  for (const auto& earphone : json["earphones"])
    EXPECT_NE(contents(plot).find(earphone["title"].get<std::string>()), std::string::npos)
        << earphone["title"];
}

TEST(SurveyCommand, ChecksALimitOnlyWhereItIsAsked) {
  EXPECT_EQ(run({"survey", demos, "--sources", "6"}).status, 0);
  const Ran beyond = run({"survey", demos, "--sources", "6", "--limit-db", "1"});
  EXPECT_EQ(beyond.status, 1);
  EXPECT_NE(beyond.out.find("earphones"), std::string::npos);
  EXPECT_EQ(run({"survey", demos, "--sources", "6", "--limit-db", "9"}).status, 0);
}

TEST(SurveyCommand, TakesChainsBesideNumbers) {
  const Names args{"survey",    demos,  "--chains", demo("attenuator-engaged.chain.toml"),
                   "--sources", "1,6R0"};
  const Ran ran = run(args);
  EXPECT_EQ(ran.status, 0);
  EXPECT_NE(ran.out.find("  A: Attenuator on"), std::string::npos) << ran.out;
  const auto only = run({"survey", demos, "--chains", demo("attenuator-engaged.chain.toml"),
                         demo("bare-output.chain.toml"), "--json"})
                        .json();
  ASSERT_EQ(only["sources"].size(), 2u);
  EXPECT_NEAR(only["sources"][0]["output_ohm"].get<double>(), 18.3 * 9.1 / 27.4, 1e-6);
}

TEST(SurveyCommand, AChainWithTheTitleOfANumberIsAChain) {
  const Scratch scratch;
  scratch.write("a.chain.toml", chain_of("6 ohm", 1));
  const Names args{"survey",   demo("two-way-armature.csv"), "--sources", "6",
                   "--chains", scratch / "a.chain.toml"};
  const std::string text = run(args).out;
  EXPECT_NE(text.find("  A: 6 ohm [a.chain.toml]"), std::string::npos) << text;
  const auto json =
      run({"survey", args[1], "--sources", "6", "--chains", args[5], "--json"}).json();
  EXPECT_NE(json["sources"][0]["label"], json["sources"][1]["label"]);
}

TEST(SurveyCommand, QuotesLabelsInTheHeadOfItsTable) {
  const Scratch scratch;
  scratch.write("a.chain.toml", chain_of("P1, \\\"on\\\"", 1));
  const auto csv = scratch / "survey.out";
  run({"survey", demo("two-way-armature.csv"), "--chains", scratch / "a.chain.toml", "--csv", csv});
  EXPECT_NE(contents(csv).find(",\"span_db_1 P1, \"\"on\"\"\","), std::string::npos)
      << contents(csv).substr(0, 200);
}

TEST(SurveyCommand, KeepsNamedChainsWhereNumbersAreLeftOut) {
  std::string many = "0.1";
  for (int i = 1; i < 30; ++i) many += "," + std::to_string(i);
  const std::string text = run({"survey", demo("two-way-armature.csv"), "--sources", many,
                                "--chains", demo("attenuator-engaged.chain.toml")})
                               .out;
  EXPECT_NE(text.find("   A  up to"), std::string::npos) << text;
}

TEST(SurveyCommand, TheLimitThatIsCheckedIsTheOneThatIsShown) {
  const auto limit = [](Names more) {
    Names args{"survey", demo("two-way-armature.csv"), "--sources", "6", "--json"};
    args.insert(args.end(), more.begin(), more.end());
    return run(args).json()["earphones"][0]["largest_source"]["limit_db"];
  };
  EXPECT_EQ(limit({}), 1);
  EXPECT_EQ(limit({"--limit-db", "3"}), 3);
  EXPECT_EQ(limit({"--limit-db", "0"}), 1);
  EXPECT_EQ(limit({"--limit-db", "3", "--largest-source", "2"}), 2);
}

TEST(SurveyCommand, ShowsTheHighestImpedanceBesideTheSpanOnly) {
  for (const char* quantity : {"span", "rise", "level-change"}) {
    const Scratch scratch;
    const auto plot = scratch / "p.svg";
    const Ran ran =
        run({"survey", demo("two-way-armature.csv"), "--quantity", quantity, "--plot", plot});
    const bool is_span = std::string(quantity) == "span";
    EXPECT_EQ(ran.out.find("up to") != std::string::npos, is_span) << ran.out;
    EXPECT_EQ(contents(plot).find("up to") != std::string::npos, is_span) << quantity;
  }
}

TEST(SurveyCommand, WritesATableThatASpreadsheetReads) {
  const Scratch scratch;
  scratch.write("a.csv", curve("=HYPERLINK(\"x\"), \"quoted\""));
  const auto csv = scratch / "survey.out";
  EXPECT_EQ(run({"survey", scratch.folder(), "--sources", "10", "--csv", csv}).status, 0);
  const std::string text = contents(csv);
  EXPECT_EQ(text.rfind("rank,title,file,largest_source_ohm,span_db_1 10 ohm,rise_db_1 10 ohm,"
                       "fall_db_1 10 ohm,level_change_db_1 10 ohm\n1,\"'=HYPERLINK(\"\"x\"\"), "
                       "\"\"quoted\"\"\",",
                       0),
            0u)
      << text;
}

TEST(SurveyCommand, TreatsTitlesAsText) {
  const Scratch scratch;
  scratch.write("a.csv", curve("`id` $(id) \x1b[31m <b> \xff"));
  scratch.write("b.csv", curve("same"));
  scratch.write("c.csv", curve("same"));
  const auto plot = scratch / "p.svg";
  const Ran ran = run({"survey", scratch.folder(), "--plot", plot});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_EQ(ran.out.find('\x1b'), std::string::npos);
  EXPECT_NE(ran.out.find("same [b.csv]"), std::string::npos) << ran.out;
  const std::string svg = contents(plot);
  EXPECT_EQ(svg.find("<b>"), std::string::npos);
  EXPECT_NE(svg.find("\u02cbid\u02cb"), std::string::npos);  // what looks like it
  EXPECT_EQ(run({"survey", scratch.folder(), "--json"}).json()["earphones"].size(), 3u);
}

TEST(SurveyCommand, SaysOnceWhatManyCurvesShare) {
  const Scratch scratch;
  for (const char* name : {"a.csv", "b.csv", "c.csv"})
    scratch.write(name, "frequency_hz,magnitude_ohm\n100,10\n1000,12\n5000,40\n9000,10\n");
  const auto warnings = run({"survey", scratch.folder(), "--json"}).json()["warnings"];
  ASSERT_EQ(warnings.size(), 2u) << warnings;
  EXPECT_NE(warnings[0].get<std::string>().find("3 of 3"), std::string::npos);
  EXPECT_NE(warnings[1].get<std::string>().find("a.csv (100 Hz to 9 kHz)"), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
