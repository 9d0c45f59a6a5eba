// Every stage that is no pad against its closed form.
#include <numbers>

#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>

#include "tests/chain/chains.h"

namespace ohmtilt {
namespace {

using namespace test;

using test::j;
double omega(double hz) { return 2 * std::numbers::pi * hz; }

TEST(Source, IsItsOutputImpedance) {
  EXPECT_EQ(output_ohm(chain(0, {})), 0.0);
  EXPECT_EQ(output_ohm(chain(120, {})), 120.0);
  EXPECT_FALSE(thevenin_source(chain(120, {})).open_ratio);
}

TEST(Source, WithCouplingCapacitorRollsOffTheBass) {
  Source source;
  source.output_ohm = 2;
  source.output_farad = 220e-6;
  source.output_henry = 1e-6;
  const Chain coupled("coupled", source, {});
  for (const double hz : {1.0, 20.0, 1000.0, 20000.0}) {
    const Complex expected = 2.0 + 1.0 / (j * omega(hz) * 220e-6) + j * omega(hz) * 1e-6;
    EXPECT_LT(std::abs(output_ohm(coupled, hz) - expected) / std::abs(expected), 1e-12);
  }
  // Half the power at f = 1/(2 pi (R + load) C), and one decade below -20.04 dB (first order).
  source.output_henry = 0;
  const Chain no_coil("coupled", source, {});
  const double corner_hz = 1 / (2 * std::numbers::pi * (2 + 32) * 220e-6);
  const double high_db = 20 * std::log10(32.0 / 34);
  EXPECT_NEAR(gain_db(no_coil, 32, corner_hz) - high_db, -10 * std::log10(2), 1e-10);
  EXPECT_NEAR(gain_db(no_coil, 32, corner_hz / 10) - high_db, -10 * std::log10(101), 1e-10);
}

TEST(Source, OfAMeasuredCurveKnowsItsRange) {
  Source source;
  source.output_curve = OnePort({100, 10000}, [](const Array& hz) -> ComplexArray {
    return ComplexArray::Constant(hz.size(), Complex(3, 4));
  });
  const Chain measured("measured", source, {pad(PadTopology::L, {3, 1e6})});
  EXPECT_NEAR(std::abs(output_ohm(measured) - 1.0 / (1.0 / Complex(6, 4) + 1e-6)), 0, 1e-12);
  EXPECT_EQ(thevenin_source(measured).output.range().low_hz, 100);
  EXPECT_THROW(output_ohm(measured, 50), InputError);
}

TEST(SeriesStage, AddsItsImpedance) {
  const Complex z = output_ohm(chain(1, {SeriesStage{33, 1e-3}}), 2000);
  EXPECT_LT(std::abs(z - (34.0 + j * omega(2000) * 1e-3)), 1e-11);
  EXPECT_LT(std::abs(open_ratio(chain(1, {SeriesStage{33, 1e-3}})) - 1.0), 1e-15);
}

TEST(Cable, IsALoopWithACapacitorAtItsFarEnd) {
  const Cable cable{0.15, 0.2, 0.8e-6, 250e-12};
  for (const double hz : {20.0, 1000.0, 20000.0, 1e6}) {
    const Complex loop = 1.0 + 2 * 0.15 + 0.2 + j * omega(hz) * 0.8e-6;
    const Complex admittance = j * omega(hz) * 250e-12;
    const Complex expected = loop / (1.0 + loop * admittance);
    EXPECT_LT(std::abs(output_ohm(chain(1, {cable}), hz) / expected - 1.0), 1e-12);
    EXPECT_LT(std::abs(open_ratio(chain(1, {cable}), hz) * loop / expected - 1.0), 1e-12);
  }
}

TEST(Transformer, DividesVoltageByItsRatioAndImpedanceByItsSquare) {
  const Chain down = chain(600, {TransformerStage{4, 1.5}});
  EXPECT_NEAR(output_ohm(down).real(), 600.0 / 16 + 1.5, 1e-10);
  EXPECT_NEAR(open_ratio(down).real(), 0.25, 1e-14);
  EXPECT_NEAR(input_ohm_at_1khz(down, 32), (32 + 1.5) * 16, 1e-9);
  // There and back again changes nothing.
  const Chain both = chain(7, {TransformerStage{3, 0}, TransformerStage{1.0 / 3, 0}});
  EXPECT_NEAR(output_ohm(both).real(), 7, 1e-12);
  EXPECT_NEAR(open_ratio(both).real(), 1, 1e-14);
}

TEST(Potentiometer, HasItsLargestOutputImpedanceAtTheElectricalMiddle) {
  const double total = 1000;
  double largest = 0;
  double largest_at = 0;
  for (int travel = 1; travel <= 100; ++travel) {
    const double a = travel / 100.0;
    const Chain at = chain(0, {VolumeStage{total, double(travel), LinearTaper{}}});
    EXPECT_NEAR(output_ohm(at).real(), a * (1 - a) * total, 1e-10);
    EXPECT_NEAR(open_ratio(at).real(), a, 1e-13);
    if (output_ohm(at).real() > largest) largest_at = travel;
    largest = std::max(largest, output_ohm(at).real());
  }
  EXPECT_EQ(largest_at, 50);
  EXPECT_NEAR(largest, total / 4, 1e-10);
  // With an audio taper the electrical middle lies at 0.5 + 0.35/1.7 of the travel.
  const double middle = 100 * (0.5 + 0.35 / 1.7);
  EXPECT_NEAR(output_ohm(chain(0, {VolumeStage{total, middle, AudioTaper{}}})).real(), 250, 1e-9);
  EXPECT_NEAR(open_ratio(chain(0, {VolumeStage{total, 50, AudioTaper{}}})).real(), 0.15, 1e-12);
}

TEST(Potentiometer, LoadsTheAmplifierWithItsWholeTrackWhenOpen) {
  const Chain half = chain(0, {VolumeStage{1000, 50, LinearTaper{}}});
  EXPECT_NEAR(input_ohm_at_1khz(half, 1e12), 1000, 1e-6);
  EXPECT_NEAR(input_ohm_at_1khz(half, 100), 500 + parallel(500, 100), 1e-9);
}

std::shared_ptr<const Circuit> circuit_of(const std::string& toml) {
  return std::make_shared<const Circuit>(parse_circuit(toml, "stage.circuit.toml", ".").value);
}

const char* const l_pad_circuit =
    "title = \"L pad\"\nreference = \"sleeve\"\n"
    "[ports]\nin = [\"a\", \"sleeve\"]\nout = [\"b\", \"sleeve\"]\n"
    "[[part]]\nname = \"R1\"\nkind = \"resistor\"\nnodes = [\"a\", \"b\"]\nohm = 18\n"
    "tolerance_percent = 5\n"
    "[[part]]\nname = \"R2\"\nkind = \"resistor\"\nnodes = [\"b\", \"sleeve\"]\nohm = 9.1\n";

TEST(CircuitStage, IsTheSamePartsInline) {
  const Stage stage = CircuitStage{circuit_of(l_pad_circuit), "pad.circuit.toml"};
  const Stage inline_pad = pad(PadTopology::L, {18, 9.1});
  const Cable cable{0.2, 0.1, 1e-6, 1e-9};
  const Chain a = chain(0.3, {cable, stage, cable});
  const Chain b = chain(0.3, {cable, inline_pad, cable});
  for (const double hz : {20.0, 1000.0, 20000.0}) {
    EXPECT_LT(std::abs(output_ohm(a, hz) - output_ohm(b, hz)), 1e-13);
    EXPECT_LT(std::abs(open_ratio(a, hz) - open_ratio(b, hz)), 1e-15);
  }
  const CircuitDraft draft = chain_circuit(a);
  const auto r1 = std::find_if(draft.parts.begin(), draft.parts.end(),
                               [](const Part& p) { return p.name == "stage 2: circuit.R1"; });
  ASSERT_NE(r1, draft.parts.end());
  EXPECT_EQ(r1->tolerance_percent, 5);
}

TEST(CircuitStage, DoesNotGroundItsOwnReference) {
  // The circuit counts its volts from the middle of its shunt; that must not short half of it.
  const Stage middle = CircuitStage{
      circuit_of(
          "reference = \"middle\"\n"
          "[ports]\nin = [\"a\", \"c\"]\nout = [\"b\", \"c\"]\n"
          "[[part]]\nname = \"R1\"\nkind = \"resistor\"\nnodes = [\"a\", \"b\"]\nohm = 18\n"
          "[[part]]\nname = \"R2\"\nkind = \"resistor\"\nnodes = [\"b\", \"middle\"]\nohm = 4\n"
          "[[part]]\nname = \"R3\"\nkind = \"resistor\"\nnodes = [\"middle\", \"c\"]\nohm = "
          "5.1\n"),
      ""};
  EXPECT_NEAR(output_ohm(chain(0.3, {middle})).real(), 18.3 * 9.1 / 27.4, 1e-12);
}

TEST(CircuitStage, OnlyOfUncoupledPortsIsRefused) {
  // Nothing connects in and out: the terminals hang in the air.
  const Stage open = CircuitStage{
      circuit_of("reference = \"s\"\n"
                 "[ports]\nin = [\"a\", \"s\"]\nout = [\"b\", \"t\"]\n"
                 "[[part]]\nname = \"R1\"\nkind = \"resistor\"\nnodes = [\"a\", \"s\"]\nohm = 18\n"
                 "[[part]]\nname = \"R2\"\nkind = \"resistor\"\nnodes = [\"b\", \"t\"]\nohm = 4\n"),
      ""};
  EXPECT_THROW(thevenin_source(chain(1, {open})), InputError);
}

TEST(SharedReturn, OfTheSourceLiesInTheLoop) {
  Source source;
  source.output_ohm = 1;
  source.shared_return_ohm = 0.25;
  EXPECT_NEAR(output_ohm(Chain("shared", source, {})).real(), 1.25, 1e-14);
}

double crosstalk_db(const Chain& chain, double load_ohm, int wires = 3, bool idle_driven = true) {
  StereoCircuitOptions options;
  options.wires = wires;
  options.idle_driven = idle_driven;
  options.earphone = OnePort::resistance(load_ohm);
  const auto volts =
      own_port_volts(Circuit(stereo_circuit(chain, options)), Array::Constant(1, 1000));
  return 20 * std::log10(std::abs(volts[1].volt[0] / volts[0].volt[0]));
}

// Idle over driven = Rg/(Rs + RL + Rg) by the voltage divider, computed with NumPy and checked
// there by a nodal analysis.
TEST(StereoCircuit, GivesTheCrosstalkOfASharedReturn) {
  int rows = 0;
  for (const auto& row : csv_rows(data("crosstalk_common_return.csv"))) {
    const auto value = [&](const char* key) { return std::stod(row.at(key)); };
    const double expected = value("ratio_dB");
    Source source;
    source.output_ohm = value("Rs_ohm");
    source.shared_return_ohm = value("Rg_ohm");
    EXPECT_NEAR(crosstalk_db(Chain("", source, {}), value("RL_ohm")), expected, 2e-5);
    // The same return in the cable, and not in a cable of four wires.
    const Chain cable = chain(value("Rs_ohm"), {Cable{0, value("Rg_ohm"), 0, 0}});
    EXPECT_NEAR(crosstalk_db(cable, value("RL_ohm")), expected, 2e-5);
    EXPECT_LT(crosstalk_db(cable, value("RL_ohm"), 4), -250);
    ++rows;
  }
  EXPECT_EQ(rows, 90);
}

TEST(StereoCircuit, OfAnUnpluggedChannelHasNoLoopToDrive) {
  const Chain shared = chain(1, {Cable{0.1, 0.2, 0, 0}});
  EXPECT_LT(crosstalk_db(shared, 16, 3, false), -250);
  EXPECT_GT(crosstalk_db(shared, 16), -60);
}

TEST(StereoCircuit, ReturnsAShuntAtItsOwnPlace) {
  // Behind the shared return the shunt sits on the lifted node: no current flows in the idle loop
  // but through the source. By hand: e the voltage over Rg per driven ampere; the idle loop is
  // Rs + (shunt parallel load) against e.
  const double rs = 2, rg = 0.3, shunt = 10, load = 16;
  const Chain after = chain(rs, {Cable{0, rg, 0, 0}, pad(PadTopology::L, {0, shunt})});
  const double loop = rs + parallel(shunt, load);
  EXPECT_NEAR(crosstalk_db(after, load), 20 * std::log10(rg / (loop + rg)), 1e-9);
  // Before it, the shunt carries part of the idle current past the earphone.
  const Chain before = chain(rs, {pad(PadTopology::L, {0, shunt}), Cable{0, rg, 0, 0}});
  const double inner = parallel(rs, shunt) + load;
  EXPECT_NEAR(crosstalk_db(before, load), 20 * std::log10(rg / (inner + rg)), 1e-9);
}

TEST(StereoCircuit, JoinsSeparateReturnsAtTheNextSharedOne) {
  // Two cables in a row: the second one's shared return begins where both returns of the first end,
  // so the first one's own return conductors are common too, in parallel.
  const Chain two = chain(0, {Cable{1, 0, 0, 0}, Cable{0, 0.5, 0, 0}});
  const double load = 16;
  const double rg = 0.5 + 0.5;  // 1 ohm parallel 1 ohm, then the shared half ohm
  EXPECT_NEAR(crosstalk_db(two, load), 20 * std::log10(rg / (1 + load + rg)), 1e-9);
}

TEST(StereoCircuit, RefusesABalancedSourceAndOddCables) {
  Source source;
  source.balanced = true;
  EXPECT_THROW(stereo_circuit(Chain("", source, {})), InputError);
  StereoCircuitOptions five;
  five.wires = 5;
  EXPECT_THROW(stereo_circuit(chain(1, {}), five), InputError);
}

}  // namespace
}  // namespace ohmtilt
