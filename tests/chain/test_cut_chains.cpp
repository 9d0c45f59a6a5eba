// A network cut in two circuit files, one stage each, is the same source as the whole in one file,
// and as a chain whose first file's output impedance and voltage are put in place of it: seeded
// random ladders.
#include <numbers>
#include <random>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/read_circuit.h>

#include "tests/chain/chains.h"
#include "tests/dice.h"

namespace ohmtilt::test {
namespace {

Part random_branch(Dice& dice, const std::string& name) {
  switch (dice.below(3)) {
    case 0:
      return resistor(name, "", "", dice.between(0.5, 200));
    case 1:
      return inductor(name, "", "", dice.between(1e-6, 1e-3),
                      dice.below(2) * dice.between(0.05, 5));
    default:
      return capacitor(name, "", "", dice.between(1e-8, 1e-4),
                       dice.below(2) * dice.between(0.05, 1));
  }
}

/// Sections of a part in series and one across, from node n0 on.
std::vector<Part> random_ladder(Dice& dice, int sections) {
  std::vector<Part> parts;
  for (int i = 0; i < sections; ++i) {
    const std::string here = "n" + std::to_string(i), next = "n" + std::to_string(i + 1);
    parts.push_back(random_branch(dice, "series " + std::to_string(i)));
    parts.back().nodes = {here, next};
    parts.push_back(random_branch(dice, "across " + std::to_string(i)));
    parts.back().nodes = {next, "0"};
  }
  return parts;
}

/// The sections from first to before last as a circuit file.
std::string circuit_file(const std::vector<Part>& ladder, int first, int last) {
  CircuitDraft draft;
  draft.reference = "0";
  draft.ports = {{"in", "n" + std::to_string(first), "0"},
                 {"out", "n" + std::to_string(last), "0"}};
  draft.parts.assign(ladder.begin() + 2 * first, ladder.begin() + 2 * last);
  return circuit_text(Circuit(std::move(draft)));
}

TheveninSamples through(const Scratch& scratch, double output_ohm,
                        const std::vector<std::string>& files, const Array& hz) {
  std::string text = "[source]\noutput_ohm = " + std::to_string(output_ohm) + "\n";
  for (const auto& file : files) text += "[[stage]]\nkind = \"circuit\"\nfile = \"" + file + "\"\n";
  return thevenin_source(parse_chain(text, "cut.chain.toml", scratch.folder()).value).at(hz);
}

double distance(const ComplexArray& a, const ComplexArray& b) {
  return ((a - b) / b).abs().maxCoeff();
}

TEST(ChainProperty, CutInTwoFilesEqualsTheWhole) {
  const Scratch scratch;
  Dice dice(1);
  const Array hz = log_grid({20, 20000}, 25);
  for (int run = 0; run < 200; ++run) {
    const int sections = 2 + dice.below(4), cut = 1 + dice.below(sections - 1);
    const auto ladder = random_ladder(dice, sections);
    scratch.write("whole.circuit.toml", circuit_file(ladder, 0, sections));
    scratch.write("first.circuit.toml", circuit_file(ladder, 0, cut));
    scratch.write("second.circuit.toml", circuit_file(ladder, cut, sections));
    const double output_ohm = dice.below(100);
    const auto whole = through(scratch, output_ohm, {"whole.circuit.toml"}, hz);
    const auto both =
        through(scratch, output_ohm, {"first.circuit.toml", "second.circuit.toml"}, hz);
    EXPECT_LT(distance(both.output_ohm, whole.output_ohm), 1e-9) << run;
    EXPECT_LT(distance(both.open_ratio, whole.open_ratio), 1e-9) << run;
  }
}

// Thevenin's theorem: the first file alone, then its open voltage behind its output impedance in
// front of the second one.
TEST(ChainProperty, TheFirstFilesTheveninSourceDrivesTheSecond) {
  const Scratch scratch;
  Dice dice(2);
  for (int run = 0; run < 200; ++run) {
    const Array hz = Array::Constant(1, dice.between(20, 20000));
    const int sections = 2 + dice.below(4), cut = 1 + dice.below(sections - 1);
    const auto ladder = random_ladder(dice, sections);
    scratch.write("whole.circuit.toml", circuit_file(ladder, 0, sections));
    scratch.write("first.circuit.toml", circuit_file(ladder, 0, cut));
    scratch.write("second.circuit.toml", circuit_file(ladder, cut, sections));
    const auto whole = through(scratch, 3, {"whole.circuit.toml"}, hz);
    const auto first = through(scratch, 3, {"first.circuit.toml"}, hz);
    const auto alone = read_chain(scratch.write("second.chain.toml",
                                                "[source]\noutput_ohm = 0\n[[stage]]\nkind = "
                                                "\"circuit\"\nfile = \"second.circuit.toml\"\n"))
                           .value;
    Source source;
    const Complex z = first.output_ohm[0];
    source.output_curve = OnePort({1, 1e6}, [z](const Array& at) -> ComplexArray {
      return ComplexArray::Constant(at.size(), z);
    });
    const auto second = thevenin_source(Chain("second", source, alone.stages())).at(hz);
    EXPECT_LT(distance(second.output_ohm, whole.output_ohm), 1e-9) << run;
    EXPECT_LT(distance(first.open_ratio * second.open_ratio, whole.open_ratio), 1e-9) << run;
  }
}

}  // namespace
}  // namespace ohmtilt::test
