// The crosstalk command: keys, options, what it refuses.
#include <algorithm>
#include <cmath>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

std::string shared(const Scratch& scratch) {
  return scratch.write("s.chain.toml",
                       "[source]\noutput_ohm = 1\nshared_return_ohm = 0.05\n[[stage]]\n"
                       "kind = \"cable\"\nconductor_ohm = 0.2\nshared_return_ohm = 0.15\n");
}

double worst(const Scratch& scratch, std::vector<std::string> more = {}) {
  std::vector<std::string> args{"crosstalk", shared(scratch), pair, "--json"};
  args.insert(args.end(), more.begin(), more.end());
  return run(args).json()["worst"]["db"].get<double>();
}

TEST(CrosstalkCommand, HasTheDocumentedKeys) {
  const Scratch scratch;
  const auto json = run({"crosstalk", shared(scratch), pair, "--json"}).json();
  EXPECT_EQ(keys(json), (std::vector<std::string>{"tool", "version", "command", "frequency_hz",
                                                  "separation_db", "worst", "known", "warnings"}));
  EXPECT_EQ(json["known"], true);
  EXPECT_EQ(json["frequency_hz"].size(), 480u);
  EXPECT_EQ(json["separation_db"].size(), 480u);
  EXPECT_EQ(keys(json["worst"]), (std::vector<std::string>{"hz", "db"}));
  EXPECT_GT(json["worst"]["db"].get<double>(), 30);
}

TEST(CrosstalkCommand, IsLessWithFourWires) {
  const Scratch scratch;
  // Of 0.2 ohm shared, 0.05 stay: about 12 dB.
  EXPECT_NEAR(worst(scratch, {"--wires", "4"}) - worst(scratch), 12, 0.3);
  const Ran ran = run({"crosstalk", shared(scratch), pair});
  EXPECT_NE(ran.out.find("smallest with four wires"), std::string::npos) << ran.out;
  EXPECT_NE(ran.out.find("balanced"), std::string::npos) << ran.out;
}

TEST(CrosstalkCommand, IsNullWhereNothingCrosses) {
  const Scratch scratch;
  const auto open = run({"crosstalk", shared(scratch), pair, "--idle", "open", "--json"}).json();
  EXPECT_TRUE(open["worst"].is_null());
  EXPECT_TRUE(open["separation_db"][0].is_null());
  EXPECT_EQ(open["warnings"].size(), 1u);
  const Ran bare = run({"crosstalk", demo("bare-output.chain.toml"), pair});
  EXPECT_EQ(bare.status, 0);
  EXPECT_NE(bare.err.find("`shared_return_ohm`"), std::string::npos);
}

// The two channels written out as a circuit of their own and asked of `solve`: 1 ohm each, 0.05 ohm
// shared at the source, 0.2 ohm conductors, 0.15 ohm shared in the cable, the demo's own drivers.
TEST(CrosstalkCommand, AgreesWithTheTwoChannelCircuitInSolve) {
  const Scratch scratch;
  std::string circuit =
      "reference = \"g\"\n[ports]\ndriven = [\"dl\", \"db\"]\nidle = [\"il\", \"ib\"]\n";
  const auto part = [&](const std::string& name, const std::string& kind, const std::string& a,
                        const std::string& b, const std::string& values) {
    circuit += "[[part]]\nname = \"" + name + "\"\nkind = \"" + kind + "\"\nnodes = [\"" + a +
               "\", \"" + b + "\"]\n" + values + "\n";
  };
  const std::string load = "file = \"" + demo("two-way-armature.csv") + "\"";
  part("V", "voltage-source", "e", "g", "volt = 1");
  part("R1", "resistor", "e", "dl", "ohm = 1.2");
  part("R2", "resistor", "g", "il", "ohm = 1.2");
  part("return", "resistor", "j", "g", "ohm = 0.2");
  part("R3", "resistor", "db", "j", "ohm = 0.2");
  part("R4", "resistor", "ib", "j", "ohm = 0.2");
  part("Z1", "curve", "dl", "db", load);
  part("Z2", "curve", "il", "ib", load);
  const auto file = scratch.write("two.circuit.toml", circuit);
  const auto solved =
      run({"solve", file, "--drive", "none", "--port", "idle", "--points", "7", "--json"}).json();
  const auto json = run({"crosstalk", shared(scratch), pair, "--points", "7", "--json"}).json();
  for (std::size_t i = 0; i < 7; ++i) {
    const auto level = [&](const char* port) {
      return solved["transfer"][port]["magnitude_db"][i].get<double>();
    };
    EXPECT_NEAR(json["separation_db"][i].get<double>(), level("driven") - level("idle"), 1e-9);
  }
}

TEST(CrosstalkCommand, DoesNotTakeWhatIsNotStatedForNothing) {
  const std::string bare = demo("bare-output.chain.toml");
  const Ran ran = run({"crosstalk", bare, pair});
  EXPECT_NE(ran.out.find("Crosstalk is unknown"), std::string::npos) << ran.out;
  EXPECT_EQ(ran.out.find("no crosstalk"), std::string::npos) << ran.out;
  EXPECT_EQ(run({"crosstalk", bare, pair, "--json"}).json()["known"], false);
  expect_refused(run({"crosstalk", bare, pair, "--limit-db", "30"}), "cannot be checked");
  const Scratch scratch;
  const auto balanced =
      scratch.write("b.chain.toml", "[source]\noutput_ohm = 1\nbalanced = true\n");
  const Ran apart = run({"crosstalk", balanced, pair, "--limit-db", "30"});
  EXPECT_EQ(apart.status, 0) << apart.err;
  EXPECT_NE(apart.out.find("There is no crosstalk"), std::string::npos) << apart.out;
}

TEST(CrosstalkCommand, SaysWhetherItMattersAndWhere) {
  const Scratch scratch;
  const auto chain = shared(scratch);
  const auto json = run({"crosstalk", chain, pair, "--json"}).json();
  const std::string out = run({"crosstalk", chain, pair}).out;
  EXPECT_NE(out.find("crosstalk is small, audible at most when the other channel is silent"),
            std::string::npos)
      << out;
  // Both ends have a frequency and one decimal.
  double most_db = 0;
  for (const auto& db : json["separation_db"]) most_db = std::max(most_db, db.get<double>());
  char row[40];
  std::snprintf(row, sizeof row, "%.1f dB at ", most_db);
  EXPECT_NE(out.find(row), std::string::npos) << out;
  const auto status = [&](double limit_db) {
    return run({"crosstalk", chain, pair, "--limit-db", std::to_string(limit_db)}).status;
  };
  const double worst_db = json["worst"]["db"].get<double>();
  EXPECT_EQ(status(worst_db - 0.01), 0);
  EXPECT_EQ(status(worst_db + 0.01), 1);
}

TEST(CrosstalkCommand, StandsBesideAnotherChain) {
  const Scratch scratch;
  const auto cable = demo("three-wire-cable.chain.toml");
  const auto json = run({"crosstalk", shared(scratch), pair, "--against", cable, "--json"}).json();
  const auto alone = run({"crosstalk", cable, pair, "--json"}).json();
  EXPECT_EQ(json["against"]["worst"], alone["worst"]);
  EXPECT_EQ(json["against"]["separation_db"], alone["separation_db"]);
  const auto csv = scratch / "c.csv";
  const Ran ran = run({"crosstalk", shared(scratch), pair, "--against", cable, "--csv", csv});
  EXPECT_NE(ran.out.find("Against Attenuator off, three-wire cable: Channel"), std::string::npos)
      << ran.out;
  EXPECT_EQ(csv_rows(csv).at(0).count("separation_db_2"), 1u);
}

TEST(CrosstalkCommand, NamesTheEarphoneBehindALongChain) {
  const Scratch scratch;
  std::string name;
  for (int i = 0; i < 20; ++i) name += "\u0414\u043b\u0438\u043d\u043d\u043e\u0435 ";
  const auto chain =
      scratch.write("l.chain.toml", "title = \"" + name +
                                        "\"\n[source]\noutput_ohm = 1\nshared_return_ohm = 0.1\n");
  const auto plot = scratch / "c.svg";
  ASSERT_EQ(run({"crosstalk", chain, pair, "--plot", plot}).status, 0);
  EXPECT_NE(contents(plot).find("Demo two-way pair behind \u0414"), std::string::npos);
}

TEST(CrosstalkCommand, RefusesWhatItDoesNotKnow) {
  const Scratch scratch;
  expect_refused(run({"crosstalk", shared(scratch), pair, "--wires", "5"}), "say 3");
  expect_refused(run({"crosstalk", shared(scratch), pair, "--idle", "off"}), "say driven");
  expect_refused(run({"crosstalk", shared(scratch), shared(scratch)}), "this is a chain");
}

}  // namespace
}  // namespace ohmtilt::test
