#include <gmock/gmock.h>

#include <algorithm>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;

TEST(CliAcquire, StimulusWritesAWavAndSaysHowToWireIt) {
  const Scratch scratch;
  const std::string file = (scratch / "sweep.wav").string();
  const Ran ran = run({"acquire", "stimulus", "--seconds", "2", "--write", file});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(ran.out, HasSubstr("input 2"));
  EXPECT_THAT(ran.out, HasSubstr("tip left, ring right, sleeve ground"));
  EXPECT_THAT(ran.out, HasSubstr("tones of two levels before and after it"));
  EXPECT_THAT(ran.out, HasSubstr("--calibrate-again again.wav"));
  EXPECT_THAT(ran.out, HasSubstr("pw-record --rate 48000"));
  EXPECT_THAT(ran.out, HasSubstr("arecord"));
  EXPECT_THAT(ran.out, HasSubstr("ohmtilt acquire impedance recording.wav --reference OHM"));
  for (const char* words : {"take the earphones off the ears", "never a microphone input",
                            "48 V phantom power", "exceed a line input", "bias voltage"}) {
    EXPECT_THAT(ran.err, HasSubstr(words));
    for (const char* command : {"stimulus", "impedance", "readings", "source"}) {
      std::string help = run({"acquire", command, "--help"}).out;
      std::replace(help.begin(), help.end(), '\n', ' ');
      EXPECT_THAT(help, HasSubstr(words)) << command;
    }
  }
  EXPECT_EQ(contents(file).substr(0, 4), "RIFF");
  const std::string first = contents(file);
  EXPECT_EQ(run({"acquire", "stimulus", "--seconds", "2", "--write", file}).status, 3);
  const Ran again =
      run({"acquire", "stimulus", "--seconds", "2", "--write", file, "--force", "--json"});
  EXPECT_THAT(keys(again.json()),
              ElementsAre("tool", "version", "command", "kind", "sample_rate_hz", "seconds",
                          "level_dbfs", "band_hz", "seed", "warnings"));
  EXPECT_THAT(again.json()["warnings"].dump(), HasSubstr("phantom power"));
  EXPECT_EQ(contents(file), first);
}

TEST(CliAcquire, StimulusDrawsTheWiring) {
  const Scratch scratch;
  const std::string file = (scratch / "sweep.wav").string();
  const std::string figure = (scratch / "wiring.svg").string();
  const Ran ran = run({"acquire", "stimulus", "--seconds", "1", "--write", file, "--wiring",
                       "reference", "--draw", figure});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(contents(figure), HasSubstr("input 2 across the reference"));
  expect_refused(run({"acquire", "stimulus", "--write", (scratch / "b.wav").string(), "--draw",
                      (scratch / "wiring.txt").string()}),
                 "wiring.txt");
}

TEST(CliAcquire, StimulusDrawsEachCalibration) {
  const Scratch scratch;
  for (const char* part : {"same", "open", "short", "known"}) {
    const std::string file = (scratch / (std::string(part) + ".wav")).string();
    const std::string figure = (scratch / (std::string(part) + ".svg")).string();
    const Ran ran = run({"acquire", "stimulus", "--seconds", "1", "--write", file, "--calibration",
                         part, "--reference", "22", "--draw", figure});
    EXPECT_EQ(ran.status, 0) << ran.err;
    EXPECT_THAT(contents(figure), HasSubstr(std::string("Calibration, ") + part));
    EXPECT_THAT(contents(figure), HasSubstr("22 ohm"));
    EXPECT_THAT(ran.out, HasSubstr("22 ohm for 0.25 W"));
  }
}

// From a recording to the answer in one run.
TEST(CliAcquire, ImpedanceAnswersForSources) {
  const Scratch scratch;
  const std::string figure = (scratch / "deviation.svg").string();
  const std::string curve = (scratch / "curve.csv").string();
  const Ran ran =
      run({"acquire", "impedance", demo("bench/recording.wav"), "--reference", "22", "--band",
           "50-10000", "--to", "6,10", "--write", curve, "--plot", figure, "--json"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  const auto deviation = ran.json()["deviation"];
  ASSERT_EQ(deviation["cases"].size(), 2u);
  const auto apart = run({"deviation", curve, "--to", "6", "--json"}).json()["cases"][0];
  EXPECT_NEAR(deviation["cases"][0]["span_db"].get<double>(), apart["span_db"].get<double>(), 0.01);
  EXPECT_THAT(contents(figure), HasSubstr("6 ohm"));
  const Ran alone = run({"acquire", "impedance", demo("bench/recording.wav"), "--reference", "22",
                         "--band", "50-10000", "--plot", (scratch / "z.svg").string()});
  EXPECT_EQ(alone.status, 0) << alone.err;
  EXPECT_THAT(contents(scratch / "z.svg"), HasSubstr("Measured impedance"));
}

// "open" is the output without a load; loads that no output impedance explains are said to
// disagree.
TEST(CliAcquire, SourceReadsOpenAndSaysWhatDisagrees) {
  const Scratch scratch;
  const std::string table =
      scratch.write("s.csv", "load_ohm,volt\nopen,1\n32,0.84\n16,0.5\n").string();
  const Ran ran = run({"acquire", "source", table});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(ran.err, HasSubstr("the loads disagree: 6.1 ohm by 32 ohm and 16 ohm by 16 ohm"));
}

TEST(CliAcquire, ImpedanceRefusesAFileThatIsNoRecording) {
  const Scratch scratch;
  const std::string text = scratch.write("a.wav", "hello").string();
  expect_refused(run({"acquire", "impedance", text, "--reference", "22"}), "a.wav");
  expect_refused(run({"acquire", "impedance", text, "--reference", "22", "--wiring", "sideways"}),
                 "sideways");
  expect_refused(run({"acquire", "impedance", text, "--reference", "22", "--known-ohm", "10"}),
                 "go together");
  expect_refused(
      run({"acquire", "impedance", text, "--reference", "22", "--calibrate-again", text}),
      "--calibrate-again tells nothing without --calibrate-same");
  EXPECT_EQ(run({"acquire", "impedance", text}).status, 2);
}

// The stimulus itself as a recording: both channels alike, which is no measurement.
TEST(CliAcquire, ImpedanceRefusesAMonoFile) {
  const Scratch scratch;
  const std::string file = (scratch / "sweep.wav").string();
  run({"acquire", "stimulus", "--seconds", "2", "--write", file});
  expect_refused(run({"acquire", "impedance", file, "--reference", "22"}), "record two");
}

TEST(CliAcquire, ReadingsIntoACurve) {
  const Scratch scratch;
  const std::string table =
      scratch.write("r.csv", "frequency_hz,volt_load,ampere\n100,0.2,0.01\n1000,0.4,0.01\n")
          .string();
  const std::string curve = (scratch / "curve.csv").string();
  const Ran ran =
      run({"acquire", "readings", table, "--meter-percent", "1", "--write", curve, "--json"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(keys(ran.json()),
              ElementsAre("tool", "version", "command", "frequency_hz", "magnitude_ohm",
                          "uncertainty_ohm", "method", "phase_deg", "computed_phase_deg",
                          "phase_uncertainty_deg", "warnings"));
  EXPECT_EQ(ran.json()["magnitude_ohm"][1], 40);
  EXPECT_TRUE(ran.json()["phase_deg"].is_null());
  EXPECT_THAT(contents(curve), HasSubstr("frequency_hz,magnitude_ohm"));
}

// A phase that no meter read goes by another name, and not into the curve's file.
TEST(CliAcquire, ReadingsNameAComputedPhaseAsOne) {
  const Scratch scratch;
  const std::string curve = (scratch / "curve.csv").string();
  const Ran three = run({"acquire", "readings", demo("bench/readings.csv"), "--reference", "22",
                         "--meter-percent", "0.5", "--write", curve, "--json"});
  EXPECT_EQ(three.status, 0) << three.err;
  EXPECT_TRUE(three.json()["phase_deg"].is_array());
  EXPECT_TRUE(three.json()["phase_uncertainty_deg"].is_array());
  EXPECT_TRUE(three.json()["computed_phase_deg"].is_null());
  EXPECT_EQ(contents(curve).find("phase"), std::string::npos) << contents(curve);
  const std::string two =
      scratch
          .write("two.csv", "frequency_hz,volt_both,volt_load\n20,1,0.4\n200,1,0.42\n2000,1,0.5\n")
          .string();
  const Ran ran = run({"acquire", "readings", two, "--reference", "22", "--meter-percent", "0.5",
                       "--write", curve, "--force", "--json"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_TRUE(ran.json()["phase_deg"].is_null());
  EXPECT_TRUE(ran.json()["computed_phase_deg"].is_array());
  EXPECT_EQ(contents(curve).find("phase_deg"), std::string::npos) << contents(curve);
}

// 6.25 V typed for 0.625 V, where the others read 0.97 V and 0.35 V.
TEST(CliAcquire, ReadingsThatFormNoTriangleAreRefusedByTheirLine) {
  const Scratch scratch;
  const std::string table = scratch
                                .write("typo.csv",
                                       "frequency_hz,volt_both,volt_reference,volt_load\n"
                                       "1000,0.963,0.363,0.603\n1250,0.968,0.347,6.250\n"
                                       "1600,0.966,0.339,0.640\n")
                                .string();
  expect_refused(run({"acquire", "readings", table, "--reference", "22"}),
                 "typo.csv:3: at 1250 Hz");
}

// R2 (V0/V2 - 1) = 32 (1/0.8 - 1) = 8 ohm.
TEST(CliAcquire, SourceFromOpenAndLoaded) {
  const Scratch scratch;
  const std::string table = scratch.write("s.csv", "load_ohm,volt\ninf,1\n32,0.8\n").string();
  const Ran ran = run({"acquire", "source", table, "--meter-percent", "0.5", "--json"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(keys(ran.json()),
              ElementsAre("tool", "version", "command", "output_ohm", "uncertainty_ohm",
                          "frequency_hz", "better_load_ohm", "warnings"));
  EXPECT_NEAR(ran.json()["output_ohm"].get<double>(), 8, 1e-12);
  EXPECT_TRUE(ran.json()["frequency_hz"].is_null());
  const std::string swept =
      scratch
          .write("t.csv",
                 "frequency_hz,load_ohm,volt\n100,inf,1\n100,32,0.8\n1000,inf,1\n1000,32,0.8\n")
          .string();
  EXPECT_EQ(run({"acquire", "source", swept, "--json"}).json()["frequency_hz"].size(), 2u);
  EXPECT_THAT(run({"acquire", "source", table}).out, HasSubstr("8 ohm"));
}

// What nobody said of the errors is not known, which is not zero.
TEST(CliAcquire, DoesNotTakeAnUnsaidErrorForNone) {
  const Scratch scratch;
  const std::string table = scratch.write("s.csv", "load_ohm,volt\ninf,1\n32,0.8\n").string();
  const auto csv = scratch / "out.csv";
  const Ran unsaid = run({"acquire", "source", table, "--csv", csv.string()});
  EXPECT_THAT(unsaid.out, HasSubstr("8 ohm, uncertainty not known (give --meter-percent"));
  EXPECT_EQ(unsaid.out.find("\u00b1"), std::string::npos);
  EXPECT_TRUE(contents(csv).ends_with(",\n")) << contents(csv);
  EXPECT_TRUE(run({"acquire", "source", table, "--json"}).json()["uncertainty_ohm"].is_null());
  EXPECT_THAT(run({"acquire", "source", table, "--meter-percent", "0.5"}).err,
              HasSubstr("the loads were taken as exact"));
  const Ran said =
      run({"acquire", "source", table, "--meter-percent", "0.5", "--load-percent", "1"});
  EXPECT_EQ(said.err.find("exact"), std::string::npos) << said.err;
  EXPECT_THAT(said.out, HasSubstr("\u00b1"));

  const std::string readings =
      scratch.write("r.csv", "frequency_hz,volt_load,volt_reference\n100,0.2,0.1\n1000,0.4,0.1\n")
          .string();
  const std::string curve = (scratch / "curve.csv").string();
  const Ran read = run({"acquire", "readings", readings, "--reference", "22", "--write", curve});
  EXPECT_THAT(read.err, HasSubstr("the uncertainty is not known"));
  EXPECT_EQ(contents(curve).find("uncertainty"), std::string::npos) << contents(curve);
  EXPECT_THAT(
      run({"acquire", "readings", readings, "--reference", "22", "--meter-percent", "1"}).err,
      HasSubstr("the reference was taken as exact"));
  expect_refused(run({"acquire", "readings", readings}), "need the reference's resistance");

  const std::vector<std::string> impedance{"acquire",     "impedance", demo("bench/recording.wav"),
                                           "--reference", "22",        "--band",
                                           "50-10000"};
  EXPECT_THAT(run(impedance).err, HasSubstr("the reference was taken as exact"));
  auto toleranced = impedance;
  toleranced.insert(toleranced.end(), {"--reference-tolerance-percent", "1"});
  EXPECT_EQ(run(toleranced).err.find("exact"), std::string::npos);
}

const char* const swept_eight_ohm =
    "frequency_hz,load_ohm,volt\n10,inf,1\n10,32,0.8\n30000,inf,1\n30000,32,0.8\n";

TEST(CliAcquire, WritesTheSourceForOtherCommands) {
  const Scratch scratch;
  const std::string table = scratch.write("s.csv", "load_ohm,volt\ninf,1\n32,0.8\n").string();
  const std::string chain = (scratch / "amplifier.chain.toml").string();
  EXPECT_EQ(run({"acquire", "source", table, "--title", "Mine", "--write", chain}).status, 0);
  const auto by_file = run({"deviation", demo("two-way-armature.csv"), "--to", chain, "--json"});
  const auto by_number = run({"deviation", demo("two-way-armature.csv"), "--to", "8", "--json"});
  EXPECT_NEAR(by_file.json()["cases"][0]["span_db"].get<double>(),
              by_number.json()["cases"][0]["span_db"].get<double>(), 1e-12);
  EXPECT_THAT(contents(chain), HasSubstr("Mine"));
  const std::string swept = scratch.write("t.csv", swept_eight_ohm).string();
  const std::string curve = (scratch / "output.csv").string();
  EXPECT_EQ(run({"acquire", "source", swept, "--write", curve}).status, 0);
  const auto by_curve = run({"deviation", demo("two-way-armature.csv"), "--to", curve, "--json"});
  EXPECT_NEAR(by_curve.json()["cases"][0]["span_db"].get<double>(),
              by_number.json()["cases"][0]["span_db"].get<double>(), 1e-9);
  expect_refused(run({"acquire", "source", table, "--write", curve, "--force"}), "a chain file");
}

// 32 (1/1.001 - 1) = -0.032 ohm: what a meter makes of an output of almost none.
TEST(CliAcquire, WritesAnOutputThatIsReadAsLessThanNone) {
  const Scratch scratch;
  const std::string swept =
      scratch
          .write("t.csv",
                 "frequency_hz,load_ohm,volt\n10,inf,1\n10,32,0.8\n30000,inf,1\n30000,32,1.001\n")
          .string();
  const std::string curve = (scratch / "output.csv").string();
  const Ran ran = run({"acquire", "source", swept, "--write", curve, "--json"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NEAR(ran.json()["output_ohm"][1].get<double>(), -0.032, 1e-4);
  EXPECT_THAT(ran.json()["warnings"].dump(), HasSubstr("-0.032 ohm at 30 kHz"));
  EXPECT_THAT(contents(curve), HasSubstr("30000,1e-06,0\n"));
  EXPECT_THAT(contents(curve), HasSubstr("written as 1e-06 ohm"));
  EXPECT_EQ(run({"deviation", demo("two-way-armature.csv"), "--to", curve}).status, 0);

  const std::string three =
      scratch
          .write("u.csv",
                 "frequency_hz,load_ohm,volt\n10,inf,1\n10,32,0.8\n1000,inf,1\n1000,32,1.001\n"
                 "30000,inf,1\n30000,32,1\n")
          .string();
  EXPECT_THAT(run({"acquire", "source", three, "--write", curve, "--force"}).err,
              HasSubstr("-0.032 ohm at 1 kHz is written as 1e-06 ohm, and so is what was read at 1 "
                        "other frequency"));

  const std::string table = scratch.write("s.csv", "load_ohm,volt\ninf,1\n32,1.001\n").string();
  const std::string chain = (scratch / "amplifier.chain.toml").string();
  const Ran single = run({"acquire", "source", table, "--write", chain, "--json"});
  EXPECT_EQ(single.status, 0) << single.err;
  EXPECT_THAT(single.json()["warnings"].dump(), HasSubstr("-0.032 ohm"));
  EXPECT_THAT(single.json()["warnings"].dump(), HasSubstr("written as 0 ohm"));
  EXPECT_THAT(contents(chain), HasSubstr("output_ohm = 0\n"));
  EXPECT_THAT(contents(chain), HasSubstr("written as 0 ohm"));
  EXPECT_EQ(run({"deviation", demo("two-way-armature.csv"), "--to", chain}).status, 0);
}

TEST(CliAcquire, SaysWithTheSourceWhatItWasTakenAs) {
  const Scratch scratch;
  const std::string swept = scratch.write("t.csv", swept_eight_ohm).string();
  const std::string curve = (scratch / "output.csv").string();
  run({"acquire", "source", swept, "--condition", "low gain", "--write", curve});
  EXPECT_THAT(contents(curve), HasSubstr("taken as a resistance"));
  EXPECT_THAT(contents(curve), HasSubstr("condition: low gain"));
  EXPECT_EQ(contents(curve).find("written as"), std::string::npos) << contents(curve);

  const std::string table = scratch.write("s.csv", "load_ohm,volt\ninf,1\n32,0.8\n").string();
  const std::string chain = (scratch / "amplifier.chain.toml").string();
  const Ran ran = run({"acquire", "source", table, "--condition", "low\ngain = \"x\" \xff \u00e4",
                       "--write", chain});
  EXPECT_EQ(ran.err.find("written as"), std::string::npos) << ran.err;
  EXPECT_THAT(contents(chain), HasSubstr("# condition: low"));
  EXPECT_THAT(contents(chain),
              HasSubstr("# origin: voltages at known loads; taken as a resistance"));
  const Ran read = run({"deviation", demo("two-way-armature.csv"), "--to", chain});
  EXPECT_EQ(read.status, 0) << read.err;
}

TEST(CliAcquire, NamesTheCurve) {
  const Scratch scratch;
  const std::string table =
      scratch.write("r.csv", "frequency_hz,volt_load,ampere\n100,0.2,0.01\n1000,0.4,0.01\n")
          .string();
  const std::string curve = (scratch / "curve.csv").string();
  run({"acquire", "readings", table, "--meter-percent", "1", "--title", "Left", "--condition",
       "free air", "--write", curve});
  const Ran seen = run({"inspect", curve});
  EXPECT_THAT(seen.out, HasSubstr("Left:"));
  EXPECT_THAT(seen.out, HasSubstr("condition: free air"));
  run({"acquire", "impedance", demo("bench/recording.wav"), "--reference", "22", "--band",
       "50-10000", "--title", "Right", "--write", curve, "--force"});
  EXPECT_THAT(run({"inspect", curve}).out, HasSubstr("Right:"));
}

}  // namespace
}  // namespace ohmtilt::test
