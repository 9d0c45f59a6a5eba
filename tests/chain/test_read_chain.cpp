// Chain files: every key, and one test a fault.
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/text/error.h>

#include "tests/chain/chains.h"

namespace ohmtilt {
namespace {

using namespace test;

const std::string one_ohm = "[source]\noutput_ohm = 1\n";

Chain parsed(const std::string& toml, const std::filesystem::path& folder = ".") {
  return parse_chain(toml, "x.chain.toml", folder).value;
}

std::string refusal(const std::string& toml, const std::filesystem::path& folder = ".") {
  try {
    parsed(toml, folder);
  } catch (const InputError& error) {
    return error.what();
  }
  return "not refused";
}

TEST(ReadChain, UnderstandsEveryKeyOfTheSource) {
  const Scratch scratch;
  scratch.write("steps.csv",
                "travel_percent,gain_db,imbalance_db\n0,-80,2\n50,-20,0.5\n100,0,0.1\n");
  const Chain chain = parsed(
      "title = \"All\"\n[source]\noutput_ohm = \"R30\"\noutput_farad = 2e-4\noutput_henry = 1e-6\n"
      "balanced = false\nopen_volt = 4\nmax_ampere = 0.1\ngain_db = [0, 9]\ninput_volt = 2\n"
      "noise_volt = 1.8e-6\nnoise_weighting = \"flat\"\nnoise_corner_hz = 100\nbias_volt = -0.5\n"
      "shared_return_ohm = 0.01\n[source.volume]\nlaw = \"table\"\nfile = \"steps.csv\"\n"
      "[[source.power]]\nload_ohm = 32\nwatt = 0.5\nduration_ms = 20\n"
      "[[source.power]]\nload_ohm = 16\nwatt = 0.4\nduration_ms = \"continuous\"\n"
      "distortion_percent = 1\n",
      scratch.folder());
  const Source& s = chain.source();
  EXPECT_EQ(chain.title(), "All");
  EXPECT_EQ(s.output_ohm, 0.3);
  EXPECT_EQ(s.output_farad, 2e-4);
  EXPECT_EQ(s.output_henry, 1e-6);
  EXPECT_EQ(s.open_volt, 4);
  EXPECT_EQ(s.max_ampere, 0.1);
  EXPECT_EQ(s.gain_db, (std::vector<double>{0, 9}));
  EXPECT_EQ(s.input_volt, 2);
  EXPECT_EQ(s.noise_volt, 1.8e-6);
  EXPECT_EQ(s.noise_weighting, NoiseWeighting::flat);
  EXPECT_EQ(s.noise_corner_hz, 100);
  EXPECT_EQ(s.bias_volt, -0.5);
  EXPECT_EQ(s.shared_return_ohm, 0.01);
  ASSERT_EQ(s.power.size(), 2u);
  EXPECT_EQ(s.power[0].duration_ms, 20);
  EXPECT_FALSE(s.power[0].distortion_percent);
  EXPECT_EQ(s.power[1].duration_ms, continuous_ms);
  EXPECT_EQ(volume_gain_db(*s.volume, 75), -10);
  EXPECT_DOUBLE_EQ(volume_imbalance_db(*s.volume, 25), 1.25);
  EXPECT_EQ(volume_gain_db(*s.volume, 0), -80);
  EXPECT_EQ(volume_gain_db(*s.volume, 100), 0);
  EXPECT_EQ(chain_text(parsed(chain_text(chain), scratch.folder())), chain_text(chain));
}

TEST(ReadChain, UnderstandsEveryStage) {
  const Scratch scratch;
  scratch.write(
      "pad.circuit.toml",
      "reference = \"s\"\n[ports]\nin = [\"a\", \"s\"]\nout = [\"b\", \"s\"]\n"
      "[[part]]\nname = \"R\"\nkind = \"resistor\"\nnodes = [\"a\", \"s\"]\nohm = 5\n"
      "[[part]]\nname = \"link\"\nkind = \"resistor\"\nnodes = [\"a\", \"b\"]\nohm = 0\n");
  const Chain chain = parsed(
      one_ohm +
          "[[stage]]\nkind = \"pad\"\ntopology = \"pi\"\nshunt_ohm = \"100R\"\nseries_ohm = 10\n"
          "second_shunt_ohm = \"1K\"\ntolerance_percent = 2\n"
          "[[stage]]\nkind = \"series\"\nohm = 33\nhenry = 1e-4\n"
          "[[stage]]\nkind = \"cable\"\nconductor_ohm = 0.1\nshared_return_ohm = 0.2\nhenry = "
          "1e-6\n"
          "farad = 1e-10\n[[stage]]\nkind = \"transformer\"\nratio = 2\nseries_ohm = 3\n"
          "[[stage]]\nkind = \"volume\"\ntotal_ohm = \"1K\"\ntravel_percent = 50\n"
          "law = \"audio-taper\"\n[[stage]]\nkind = \"circuit\"\nfile = \"pad.circuit.toml\"\n",
      scratch.folder());
  ASSERT_EQ(chain.stages().size(), 6u);
  const auto& pi = std::get<Pad>(chain.stages()[0]);
  EXPECT_EQ(pi.ohm, (std::vector<double>{100, 10, 1000}));
  EXPECT_EQ(pi.value("second_shunt_ohm"), 1000);
  EXPECT_EQ(pi.tolerance_percent, 2);
  EXPECT_EQ(std::get<SeriesStage>(chain.stages()[1]).henry, 1e-4);
  EXPECT_EQ(std::get<Cable>(chain.stages()[2]).farad, 1e-10);
  EXPECT_EQ(std::get<TransformerStage>(chain.stages()[3]).ratio, 2);
  EXPECT_EQ(std::get<VolumeStage>(chain.stages()[4]).lower_ohm(), 150);
  EXPECT_EQ(std::get<CircuitStage>(chain.stages()[5]).circuit->parts().size(), 2u);
  EXPECT_EQ(stage_label(2, chain.stages()[2]), "stage 3: cable");
  EXPECT_EQ(chain_text(parsed(chain_text(chain), scratch.folder())), chain_text(chain));
  EXPECT_EQ(without_attenuation(chain).stages().size(), 4u);
}

TEST(ReadChain, TakesPathsFromTheFilesOwnFolder) {
  const Scratch scratch;
  std::filesystem::create_directory(scratch / "deep");
  scratch.write("deep/out.csv", "frequency_hz,real_ohm,imag_ohm\n20,5,1\n1000,5,1\n20000,5,1\n");
  const auto file = scratch.write("deep/x.chain.toml", "[source]\noutput_curve = \"out.csv\"\n");
  const auto read = read_chain(file);
  EXPECT_NEAR(std::abs(output_ohm(read.value) - Complex(5, 1)), 0, 1e-12);
  EXPECT_EQ(read.value.title(), "x");
  EXPECT_EQ(read_source(file.string()).label, "x");
}

TEST(ReadChain, WarnsOfAnOutputCurveWithoutPhase) {
  const Scratch scratch;
  scratch.write("out.csv", "frequency_hz,magnitude_ohm\n20,5\n200,5\n2000,5\n20000,6\n");
  const auto file = scratch.write("x.chain.toml", "[source]\noutput_curve = \"out.csv\"\n");
  const auto warnings = read_source(file.string()).warnings;
  ASSERT_EQ(warnings.size(), 1u);
  EXPECT_NE(warnings[0].find("minimum phase"), std::string::npos);
}

TEST(ReadChain, LetsHostileTitlesThroughUnharmed) {
  const std::string title = "\"; set output '/tmp/x'; <script>\\u0007\\n`rm` $(x) %s \\\\";
  const Chain chain = parsed("title = \"\\" + title + "\"\n" + one_ohm);
  EXPECT_EQ(chain.title(), "\"; set output '/tmp/x'; <script>\ufffd\u21b5`rm` $(x) %s \\");
  EXPECT_EQ(parsed(chain_text(chain)).title(), chain.title());
}

struct ChainFault {
  std::string toml, line, part;
};

std::string stage(const std::string& keys) { return one_ohm + "[[stage]]\n" + keys; }
std::string pad_stage(const std::string& keys) {
  return stage("kind = \"pad\"\ntopology = \"L\"\n" + keys);
}

class ChainFaults : public testing::TestWithParam<ChainFault> {};

TEST_P(ChainFaults, AreRefusedWithPlaceAndRemedy) {
  const std::string text = refusal(GetParam().toml);
  EXPECT_EQ(text.rfind("x.chain.toml:" + GetParam().line + ":", 0), 0u) << text;
  EXPECT_NE(text.find(GetParam().part), std::string::npos) << text;
  EXPECT_NE(text.find("; "), std::string::npos) << text;  // a remedy follows
}

INSTANTIATE_TEST_SUITE_P(
    Source, ChainFaults,
    testing::Values(
        ChainFault{"title = \"x\"\n", "1", "`source` is missing"},
        ChainFault{"titel = \"x\"\n" + one_ohm, "1", "did you mean `title`"},
        // Headers without a key and letters where none belong, found by fuzzing.
        ChainFault{"caf\u00e9 = 1\n" + one_ohm, "1", "not TOML"},
        ChainFault{"title = 1 \u0490\n" + one_ohm, "1", "not TOML"},
        ChainFault{"[.5[a]]\n" + one_ohm, "1", "not TOML"},
        ChainFault{"[[= \"a\"\n" + one_ohm, "1", "not TOML"},
        ChainFault{"title = 5\n" + one_ohm, "1", "should be text"},
        ChainFault{"[source]\noutput_ohms = 1\n", "2", "did you mean `output_ohm`"},
        ChainFault{"[source]\nopen_volt = 1\n", "1", "`output_ohm` is missing"},
        ChainFault{"[source]\noutput_ohm = -1\n", "2", "0 or more"},
        ChainFault{"[source]\noutput_ohm = nan\n", "2", "not finite"},
        ChainFault{"[source]\noutput_ohm = 1e30\n", "2", "beyond anything physical"},
        ChainFault{"[source]\noutput_ohm = \"4X7\"\n", "2", "no resistance code"},
        ChainFault{"[source]\noutput_ohm = 1\noutput_curve = \"none.csv\"\n", "3", "stands beside"},
        ChainFault{"[source]\noutput_curve = \"none.csv\"\n", "2", "not a file here"},
        ChainFault{one_ohm + "output_farad = 0\n", "3", "more than 0"},
        ChainFault{one_ohm + "output_henry = -1\n", "3", "0 or more"},
        ChainFault{one_ohm + "balanced = 1\n", "3", "true or false"},
        ChainFault{one_ohm + "balanced = true\nshared_return_ohm = 0.1\n", "4", "no common return"},
        ChainFault{one_ohm + "open_volt = 0\n", "3", "more than 0"},
        ChainFault{one_ohm + "max_ampere = -0.1\n", "3", "more than 0"},
        ChainFault{one_ohm + "gain_db = 9\n", "3", "an array"},
        ChainFault{one_ohm + "gain_db = [0, 900]\n", "3", "from -300 to 300"},
        ChainFault{one_ohm + "input_volt = 0\n", "3", "more than 0"},
        ChainFault{one_ohm + "noise_volt = -1e-6\n", "3", "0 or more"},
        ChainFault{one_ohm + "noise_volt = 1e-6\nnoise_weighting = \"C\"\n", "4", "\"flat\""},
        ChainFault{one_ohm + "noise_corner_hz = 10\n", "1", "`noise_volt` is missing"},
        ChainFault{one_ohm + "bias_volt = inf\n", "3", "not finite"},
        ChainFault{one_ohm + "shared_return_ohm = -1\n", "3", "0 or more"},
        ChainFault{one_ohm + "volume = 3\n", "3", "should be a table"},
        ChainFault{one_ohm + "[source.volume]\nlaw = \"log\"\n", "4", "known are audio-taper"},
        ChainFault{one_ohm + "[source.volume]\nlaw = \"decibel\"\n", "3", "`step_db` is missing"},
        ChainFault{one_ohm + "[source.volume]\nlaw = \"decibel\"\nstep_db = 0\n", "5",
                   "more than 0"},
        ChainFault{one_ohm + "[source.volume]\nlaw = \"table\"\nfile = \"no.csv\"\n", "5",
                   "not a file"},
        ChainFault{one_ohm + "[source.volume]\nlaw = \"linear-taper\"\nstep_db = 1\n", "5",
                   "unknown key"},
        ChainFault{one_ohm + "[[source.power]]\nwatt = 1\n", "3", "`load_ohm` is missing"},
        ChainFault{one_ohm + "[[source.power]]\nload_ohm = 16\nwatt = 0\n", "5", "more than 0"},
        ChainFault{one_ohm + "[[source.power]]\nload_ohm = 16\nwatt = 1\nduration_ms = \"long\"\n",
                   "6", "continuous"},
        ChainFault{
            one_ohm + "[[source.power]]\nload_ohm = 16\nwatt = 1\ndistortion_percent = 101\n", "6",
            "from 0 to 100"}));

INSTANTIATE_TEST_SUITE_P(
    Stage, ChainFaults,
    testing::Values(
        ChainFault{stage("ohm = 1\n"), "3", "`kind` is missing"},
        ChainFault{stage("kind = \"pat\"\n"), "4", "did you mean \"pad\""},
        ChainFault{stage("kind = \"pad\"\n"), "3", "`topology` is missing"},
        ChainFault{stage("kind = \"pad\"\ntopology = \"X\"\n"), "5", "bridged-T"},
        ChainFault{pad_stage("series_ohm = 1\n"), "3", "stage 1: pad: `shunt_ohm` is missing"},
        ChainFault{pad_stage("series_ohm = 1\nshunt_ohm = 0\n"), "7", "more than 0"},
        ChainFault{pad_stage("series_ohm = -1\nshunt_ohm = 1\n"), "6", "0 or more"},
        ChainFault{pad_stage("series_ohm = 1\nshunt_ohm = 1\nbridge_ohm = 1\n"), "8",
                   "unknown key"},
        ChainFault{pad_stage("series_ohm = 1\nshunt_ohm = 1\ntolerance_percent = 100\n"), "8",
                   "less than 100"},
        ChainFault{stage("kind = \"series\"\n"), "3", "`ohm` is missing"},
        ChainFault{stage("kind = \"series\"\nohm = 1\nhenry = -1\n"), "6", "0 or more"},
        ChainFault{stage("kind = \"cable\"\nconductor_ohm = -1\n"), "5", "0 or more"},
        ChainFault{stage("kind = \"cable\"\nconductor_ohm = 1\nfarad = -1\n"), "6", "0 or more"},
        ChainFault{stage("kind = \"cable\"\nconductor_ohm = 1\nlength = 1\n"), "6", "unknown key"},
        ChainFault{stage("kind = \"transformer\"\nratio = 0\n"), "5", "more than 0"},
        ChainFault{
            stage("kind = \"volume\"\ntotal_ohm = 1\ntravel_percent = 0\nlaw = \"linear-taper\"\n"),
            "6", "silence"},
        ChainFault{stage("kind = \"volume\"\ntotal_ohm = 1\ntravel_percent = 101\n"
                         "law = \"linear-taper\"\n"),
                   "6", "from 0 to 100"},
        ChainFault{
            stage("kind = \"volume\"\ntotal_ohm = 1\ntravel_percent = 50\nlaw = \"decibel\"\n"),
            "7", "audio-taper"},
        ChainFault{stage("kind = \"circuit\"\nfile = \"none.circuit.toml\"\n"), "5",
                   "not a file here"},
        ChainFault{stage("kind = \"circuit\"\nfile = \"/dev/zero\"\n"), "5", "not a file here"},
        ChainFault{"stage = 3\n" + one_ohm, "1", "should be an array"}));

TEST(ReadChain, RefusesACircuitStageWithoutInAndOut) {
  const auto toml = stage("kind = \"circuit\"\nfile = \"two-way-armature.circuit.toml\"\n");
  const std::string text = refusal(toml, source_dir() / "impedance-curves");
  EXPECT_NE(text.find("x.chain.toml:5:"), std::string::npos) << text;
  EXPECT_NE(text.find("`in` and `out` (it has `terminals`)"), std::string::npos) << text;
}

TEST(ReadChain, RefusesAChainAsItsOwnStage) {
  const Scratch scratch;
  const auto file =
      scratch.write("x.chain.toml", stage("kind = \"circuit\"\nfile = \"x.chain.toml\"\n"));
  EXPECT_THROW(read_chain(file), InputError);
}

TEST(ReadChain, RefusesOtherFilesByName) {
  EXPECT_NE(refusal("reference = \"s\"\n[ports]\na = [\"b\", \"s\"]\n").find("this is a circuit"),
            std::string::npos);
  EXPECT_NE(refusal("impedance = \"x.csv\"\n").find("this is an earphone"), std::string::npos);
}

TEST(ReadChain, RefusesVolumeTablesThatDoNotRise) {
  const Scratch scratch;
  const std::string toml = one_ohm + "[source.volume]\nlaw = \"table\"\nfile = \"v.csv\"\n";
  scratch.write("v.csv", "travel_percent,gain_db\n50,-20\n0,-80\n");
  EXPECT_NE(refusal(toml, scratch.folder()).find("does not rise"), std::string::npos);
  EXPECT_NE(refusal(toml, scratch.folder()).find("v.csv:3:"), std::string::npos);
  scratch.write("v.csv", "travel_percent,level\n0,-20\n100,-0\n");
  EXPECT_NE(refusal(toml, scratch.folder()).find("gain_db is missing"), std::string::npos)
      << refusal(toml, scratch.folder());
}

// A wrong row is named by the table's own file and line, not by the chain's.
TEST(ReadChain, NamesTheVolumeTableAndItsLine) {
  const std::string toml = one_ohm + "[source.volume]\nlaw = \"table\"\nfile = \"v.csv\"\n";
  struct Row {
    const char *text, *place, *wrong;
  };
  for (const Row& row :
       {Row{"0,-80,1\n50,-20,-0.5\n100,0,0\n", "v.csv:3:8: ", "imbalance_db of -0.5"},
        Row{"-1,-80,1\n100,0,0\n", "v.csv:2:1: ", "outside 0 to 100"},
        Row{"0,-80,1\n101,0,0\n", "v.csv:3:1: ", "outside 0 to 100"},
        Row{"0,-80,1\n", "v.csv: ", "one row"}}) {
    const Scratch scratch;
    scratch.write("v.csv", "travel_percent,gain_db,imbalance_db\n" + std::string(row.text));
    const std::string text = refusal(toml, scratch.folder());
    EXPECT_NE(text.find(row.place), std::string::npos) << text;
    EXPECT_NE(text.find(row.wrong), std::string::npos) << text;
    EXPECT_EQ(text.find("x.chain.toml"), std::string::npos) << text;
  }
  VolumeTable table{"v.csv", (Array(2) << 0, 100).finished(), (Array(2) << -80, 0).finished(),
                    (Array(2) << -1, 0).finished()};
  Source made;
  made.volume = table;
  EXPECT_THROW(Chain("", made, {}), InputError);
}

TEST(Chain, MadeInMemoryIsCheckedToo) {
  EXPECT_THROW(test::chain(-1, {}), InputError);
  EXPECT_THROW(test::chain(1, {pad(PadTopology::L, {1})}), InputError);
  EXPECT_THROW(test::chain(1, {pad(PadTopology::L, {1, 0})}), InputError);
  EXPECT_THROW(test::chain(1, {CircuitStage{}}), InputError);
  EXPECT_THROW(test::chain(1, std::vector<Stage>(101, SeriesStage{1, 0})), InputError);
  Source both;
  both.output_ohm = 1;
  both.output_curve = OnePort::resistance(1);
  EXPECT_THROW(Chain("", both, {}), InputError);
  both.output_ohm = 0;
  EXPECT_THROW(chain_text(Chain("", both, {})), InputError);  // no file to name
}

TEST(ReadSource, TakesWhatAUserWrites) {
  EXPECT_EQ(read_source("6").output.at(1000.0), 6.0);
  EXPECT_EQ(read_source("R30").output.at(1000.0), 0.3);
  const auto demo = (source_dir() / "impedance-curves/attenuator-engaged.chain.toml").string();
  EXPECT_EQ(read_source(demo).label, "Attenuator on");
  ASSERT_TRUE(read_source(demo).chain);
  EXPECT_EQ(read_source(demo).chain->stages().size(), 1u);
  EXPECT_FALSE(read_source("6").chain);
  for (const char* wrong : {"", "six", "6Q0", "none.csv", "none.chain.toml", "R", "123456R"}) {
    try {
      read_source(wrong);
      ADD_FAILURE() << wrong;
    } catch (const InputError& error) {
      EXPECT_NE(std::string(error.what()).find("give ohms (6), a code (6R0)"), std::string::npos)
          << error.what();
    }
  }
  EXPECT_THROW(read_source("-1"), InputError);
  EXPECT_THROW(read_source("inf"), InputError);
  for (const char* beyond : {"1e300", "1e16", "1e-25"}) {
    try {
      read_source(beyond);
      ADD_FAILURE() << beyond;
    } catch (const InputError& error) {
      EXPECT_NE(std::string(error.what()).find("ohm is beyond anything physical"),
                std::string::npos)
          << error.what();
    }
  }
}

TEST(ReadAnyChain, TakesWhatAUserWrites) {
  EXPECT_EQ(read_any_chain("4R7").value.source().output_ohm, 4.7);
  EXPECT_EQ(read_any_chain("4R7").value.title(), "4.7 ohm");
  const auto curve = (source_dir() / "impedance-curves/planar.csv").string();
  EXPECT_TRUE(read_any_chain(curve).value.source().output_curve);
  const auto demo = (source_dir() / "impedance-curves/attenuator-engaged.chain.toml").string();
  EXPECT_EQ(read_any_chain(demo).value.stages().size(), 1u);
}

TEST(ChainText, AZeroWithASignReadsBackTheSame) {
  const Chain chain = parsed(one_ohm + "noise_volt = -0e-6\ngain_db = [-0.0, 6]\n");
  EXPECT_EQ(chain_text(parsed(chain_text(chain))), chain_text(chain));
}

}  // namespace
}  // namespace ohmtilt
