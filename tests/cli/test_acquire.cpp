#include <gmock/gmock.h>

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
  EXPECT_THAT(ran.out, HasSubstr("Take the earphones off the ears"));
  EXPECT_EQ(contents(file).substr(0, 4), "RIFF");
  const std::string first = contents(file);
  EXPECT_EQ(run({"acquire", "stimulus", "--seconds", "2", "--write", file}).status, 3);
  const Ran again =
      run({"acquire", "stimulus", "--seconds", "2", "--write", file, "--force", "--json"});
  EXPECT_THAT(keys(again.json()),
              ElementsAre("tool", "version", "command", "kind", "sample_rate_hz", "seconds",
                          "level_dbfs", "band_hz", "seed", "warnings"));
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

TEST(CliAcquire, ImpedanceRefusesAFileThatIsNoRecording) {
  const Scratch scratch;
  const std::string text = scratch.write("a.wav", "hello").string();
  expect_refused(run({"acquire", "impedance", text, "--reference", "22"}), "a.wav");
  expect_refused(run({"acquire", "impedance", text, "--reference", "22", "--wiring", "sideways"}),
                 "sideways");
  expect_refused(run({"acquire", "impedance", text, "--reference", "22", "--known-ohm", "10"}),
                 "go together");
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
                          "phase_deg", "uncertainty_ohm", "method", "warnings"));
  EXPECT_EQ(ran.json()["magnitude_ohm"][1], 40);
  EXPECT_TRUE(ran.json()["phase_deg"].is_null());
  EXPECT_THAT(contents(curve), HasSubstr("frequency_hz,magnitude_ohm"));
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

}  // namespace
}  // namespace ohmtilt::test
