// Modes, damping and time responses, from physics and against published figures.
#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/chain/chain.h>

#include "tests/analysis/sources.h"
#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

DampingEarphone on(std::vector<Part> parts) {
  return damping_earphone(earphone_from_circuit(circuit_of(std::move(parts))));
}
/// A driver of ts_series_resistance.csv without its coil (the sheet's Q are those of R, L and C).
std::vector<Part> thiele_small(const std::string& name) {
  if (name == "A")  // a published parameter sheet: Re 6.18, Res 21.62, Lces 6.88 mH, Cmes 302.84 uF
    return {resistor("Re", "in", "a", 6.18), resistor("Res", "a", "0", 21.62),
            inductor("Lces", "a", "0", 6.88e-3), capacitor("Cmes", "a", "0", 302.84e-6)};
  const bool b = name == "B";
  const double moving_gram = b ? 33.4 + 1e3 * 16 * 1.2 * std::pow(0.12, 3) / 3 : 54.8;
  const double mm = b ? 1.18 : 1, force_factor = b ? 11.4 : 10, dc_ohm = b ? 7 : 5.4;
  // C: Qms 2.37 gives its loss.
  const double loss = b ? 1.85 : std::sqrt(54.8e-3 / 1e-3) / 2.37;
  return {named_part(PartKind::dynamic_driver, name, {"in", "0"},
                     {{"dc_ohm", dc_ohm},
                      {"moving_gram", moving_gram},
                      {"compliance_mm_per_newton", mm},
                      {"resistance_kg_per_second", loss},
                      {"force_factor_newton_per_ampere", force_factor}})};
}

TerminalRatios ratios(const DampingEarphone& earphone, const DampingSource& source) {
  return terminal_ratios(earphone, source, zeros(sum(earphone.impedance, source.output)));
}

MovingCoil coil_of(const std::string& name) {
  if (name != "A") return on(thiele_small(name)).moving_coil.value();
  const double omega = 1 / std::sqrt(6.88e-3 * 302.84e-6);
  return {"A", 6.18, omega / (2 * pi), omega * 302.84e-6 * 21.62, omega * 302.84e-6 * 6.18};
}

TEST(Damping, SeriesResistanceTable) {
  // ts_series_resistance.csv prints six decimals: half of the last one.
  int rows = 0;
  for (const auto& row : csv_rows(data("ts_series_resistance.csv"))) {
    const double ohm = std::stod(row.at("Rs_ohm"));
    const auto result =
        damping(on(thiele_small(row.at("driver"))), resistances({0, ohm == 0 ? 1 : ohm}));
    const DriverQ q = driver_q(coil_of(row.at("driver")), ohm);
    EXPECT_NEAR(q.q_electrical, std::stod(row.at("Qes_with_Rs")), 6e-7);
    EXPECT_NEAR(q.q_total, std::stod(row.at("Qts_with_Rs")), 6e-7);
    ASSERT_EQ(result.modes.size(), 1u);
    const auto& at = result.modes[0].at[ohm == 0 ? 0 : 1];
    ASSERT_TRUE(at);
    EXPECT_NEAR(at->q, std::stod(row.at("Qts_poles")), 6e-7) << row.at("driver") << " " << ohm;
    EXPECT_NEAR(at->q / q.q_total, 1, 1e-9);
    ++rows;
  }
  EXPECT_EQ(rows, 30);
}

TEST(Damping, EndsOfTheLocusAreQtsAndQms) {
  const auto result = damping(on(thiele_small("C")), resistances({0.3, 6}));
  const auto& at = result.modes[0].at;
  ASSERT_EQ(at.size(), 4u);
  EXPECT_NEAR(at.front()->q, 0.342052, 6e-7);
  EXPECT_NEAR(at.back()->q, 2.37, 1e-9);
  for (const auto& mode : at) EXPECT_NEAR(mode->hz, at[0]->hz, 1e-7);  // no coil: f0 stays
  // Real at 0 ohm, Q below one half; still one mode with its product and sum.
  EXPECT_FALSE(at.front()->is_complex());
  EXPECT_TRUE(at.back()->is_complex());
  EXPECT_EQ(result.modes[0].name, "C");
}

TEST(Damping, DecayOfAnRlcMode) {
  // ln(1000) 2 Q / w0: the time for e^(-w0 t/2Q) to fall to a thousandth.
  const auto result = damping(on(thiele_small("A")), resistances({0, 100}));
  for (const auto& at : result.modes[0].at) {
    const double omega = 2 * pi * at->hz;
    EXPECT_NEAR(at->decay_60_db_ms, 1000 * std::log(1000) * 2 * at->q / omega, 1e-9);
    EXPECT_NEAR(at->decay_60_db_ms / at->decay_20_db_ms, 3, 1e-12);
  }
}

TEST(Damping, BirdsResonances) {
  // J. O. Bird, Electrical Circuit Theory and Technology, 2nd ed. (2003), as listed in
  // resonance_examples.csv; half of the last printed digit.
  const auto mode = [](std::vector<Part> parts, bool series) {
    const auto result = damping(on(std::move(parts)), resistances({0, 1}));
    return (series ? result.modes.at(0).at.front() : result.modes.at(0).at.back()).value();
  };
  // 28.1 p. 492: series R 10, C 40 uF, L 75 mH: 91.89 Hz.
  EXPECT_NEAR(mode({inductor("L", "in", "a", 75e-3, 10), capacitor("C", "a", "0", 40e-6)}, true).hz,
              91.89, 0.005);
  // 28.5 p. 502: R 80, C 0.4 uF, L 20 mH: 1779.41 Hz.
  EXPECT_NEAR(
      mode({inductor("L", "in", "a", 20e-3, 80), capacitor("C", "a", "0", 0.4e-6)}, true).hz,
      1779.41, 0.005);
  // 28.8 p. 507: 50 ohm, 1200 Hz, Q 30 from the printed L and C.
  const auto high =
      mode({inductor("L", "in", "a", 198.94e-3, 50), capacitor("C", "a", "0", 88.42e-9)}, true);
  EXPECT_NEAR(high.hz, 1200, 0.05);
  EXPECT_NEAR(high.q, 30, 0.005);
  // 29.1 p. 521: a coil of
  // 10 ohm and 5 mH beside 0.25 uF: the pole is at the undamped 1/sqrt(LC), and the
  // printed 4490.31 Hz is where Z is real: f0 sqrt(1 - 1/Q^2).
  const auto tank =
      mode({inductor("L", "in", "0", 5e-3, 10), capacitor("C", "in", "0", 0.25e-6)}, false);
  EXPECT_NEAR(tank.hz * std::sqrt(1 - 1 / (tank.q * tank.q)), 4490.31, 0.005);
}

TEST(Damping, CouplingCapacitorJoins) {
  // A series R-L-C seen from a capacitor: 1/C adds to 1/C, so f0 rises by sqrt(2) for equal ones.
  const auto earphone = on({inductor("L", "in", "a", 20e-3, 80), capacitor("C", "a", "0", 0.4e-6)});
  Source amplifier;
  amplifier.output_farad = 0.4e-6;
  const auto result =
      damping(earphone, {damping_source(resistive_source(0)),
                         damping_source(thevenin_source(Chain("coupled", amplifier, {})))});
  ASSERT_EQ(result.modes.size(), 1u);
  EXPECT_NEAR(result.modes[0].at[1]->hz / result.modes[0].at[0]->hz, std::sqrt(2), 1e-9);
}

TEST(Damping, SourceOfItsOwnBringsAMode) {
  // Into 16 ohm, L-C of the source make one mode that the earphone alone has not.
  const auto earphone = on({resistor("R", "in", "0", 16)});
  Source amplifier;
  amplifier.output_farad = 1e-5;
  amplifier.output_henry = 1e-2;
  const auto result =
      damping(earphone, {damping_source(resistive_source(1)),
                         damping_source(thevenin_source(Chain("resonant", amplifier, {})))});
  ASSERT_EQ(result.modes.size(), 1u);
  EXPECT_FALSE(result.modes[0].at[0]);
  EXPECT_FALSE(result.modes[0].at[1]);
  ASSERT_TRUE(result.modes[0].at[2]);
  EXPECT_NEAR(result.modes[0].at[2]->hz, 1 / (2 * pi * std::sqrt(1e-7)), 1e-6);
  EXPECT_NEAR(result.modes[0].at[2]->q, std::sqrt(1e-2 / 1e-5) / 16, 1e-9);
}

TEST(Damping, APadDampsAsItsOutputResistance) {
  const Chain pad("pad", Source{}, {Pad{PadTopology::L, {18, 9.1}, 0}});
  const auto earphone = on(thiele_small("A"));
  const auto with_pad = damping(
      earphone, {damping_source(resistive_source(0)), damping_source(thevenin_source(pad))});
  const auto plain = damping(earphone, resistances({0, 18 * 9.1 / 27.1}));
  EXPECT_NEAR(with_pad.modes[0].at[1]->q, plain.modes[0].at[1]->q, 1e-10);
  EXPECT_NEAR(with_pad.bursts[1].terminal.volt.abs().maxCoeff() /
                  plain.bursts[1].terminal.volt.abs().maxCoeff(),
              9.1 / 27.1, 1e-9);
}

TEST(Damping, LargestSourceWithinALimit) {
  // Q of a driver without coil rises with Rs by a closed form, so the limit can be inverted:
  // 1/Q = 1/Qms + Re/(Qes (Re + Rs)).
  DampingOptions options;
  options.limit_q_percent = 10;
  const auto result = damping(on(thiele_small("A")), resistances({0, 5}), options);
  const MovingCoil coil = coil_of("A");
  const double wanted = 1.1 * driver_q(coil, 0).q_total;
  const double electrical = 1 / (1 / wanted - 1 / coil.q_mechanical);
  ASSERT_TRUE(result.limit);
  EXPECT_TRUE(result.limit->exceeded);
  EXPECT_NEAR(result.limit->worst_percent, 100 * (1.546095 / 1.008351 - 1), 1e-3);
  EXPECT_NEAR(result.limit->largest_ohm.value(), coil.dc_ohm * (electrical / coil.q_electrical - 1),
              1e-5);
}

TEST(Damping, PlanarHasNoModes) {
  const auto result = damping(on({inductor("Z", "in", "0", 2e-5, 13)}), resistances({0, 10}));
  EXPECT_TRUE(result.modes.empty());
  EXPECT_EQ(result.warnings.size(), 1u);
  EXPECT_NEAR(result.factors[1].ratio[0], 1.3, 1e-4);
  EXPECT_FALSE(std::isfinite(result.factors[0].ratio[0]));
}

TEST(Damping, TheCoilCountsWhereAllDirectCurrentFlowsThroughIt) {
  const Part driver = thiele_small("C").front();
  // Behind 2 ohm: 5.4 + 2.
  Part behind = driver;
  behind.nodes[0] = "a";
  const auto direct = damping(on({resistor("R", "in", "a", 2), behind}), resistances({0, 10}));
  EXPECT_NEAR(direct.coil_ohm, 7.4, 1e-9);
  EXPECT_NEAR(direct.factors[1].ratio_with_coil[0], direct.factors[1].ratio[0] * 10 / 17.4, 1e-4);
  // Behind a capacitor, or beside another path, its resistance is not that of the terminals.
  for (const auto& parts : {std::vector{capacitor("series", "in", "a", 1e-3),
                                        resistor("beside", "in", "0", 1e4), behind},
                            std::vector{resistor("beside", "in", "0", 50), driver},
                            std::vector{resistor("alone", "in", "0", 16)}}) {
    const auto other = damping(on(parts), resistances({0, 10}));
    EXPECT_EQ(other.coil_ohm, 0);
    EXPECT_EQ(other.factors[1].ratio_with_coil.size(), 0);
  }
}

class DemoRatios : public testing::TestWithParam<const char*> {};

// Against the nodal solver at real frequencies, which knows no modes.
TEST_P(DemoRatios, AreThoseOfTheSolver) {
  const auto earphone = damping_earphone(
      earphone_from_circuit(read_circuit(source_dir() / "impedance-curves" / GetParam()).value));
  const Array hz = audio_grid();
  std::vector<Port> ports{earphone.circuit.port()};
  for (const auto& motional : earphone.motional) ports.push_back(motional.port);
  for (std::size_t i = 0; i < ports.size(); ++i) ports[i].name = "port " + std::to_string(i);
  for (const double ohm : {0.0, 0.3, 6.0, 1000.0}) {
    const auto found = ratios(earphone, damping_source(resistive_source(ohm)));
    CircuitDraft draft = earphone.circuit.draft();
    draft.ports = ports;
    draft.parts.push_back(resistor("Rs", "emf", ports[0].plus, ohm));
    draft.parts.push_back(voltage_source("emf", "emf", ports[0].minus, 1));
    const Circuit whole(std::move(draft));
    for (std::size_t i = 0; i < ports.size(); ++i) {
      const auto& ratio = i == 0 ? found.terminal : found.motional[i - 1];
      const ComplexArray wanted = thevenin(whole, hz, ports[i].name).open_volt;
      EXPECT_LT((evaluate(ratio, hz) - wanted).abs().maxCoeff(), 1e-11 * wanted.abs().maxCoeff())
          << ohm << " " << i;
    }
  }
}

INSTANTIATE_TEST_SUITE_P(Circuits, DemoRatios,
                         testing::Values("single-dynamic.circuit.toml", "planar.circuit.toml",
                                         "two-way-armature.circuit.toml",
                                         "five-armature.circuit.toml",
                                         "dynamic-armature-hybrid.circuit.toml",
                                         "dynamic-piezo-hybrid.circuit.toml"));

TEST(TimeResponse, FinalAndInitialValueTheorems) {
  const auto earphone = on(thiele_small("B"));
  const auto source = damping_source(resistive_source(5));
  const auto ratio = ratios(earphone, source).terminal;
  const Array step = step_response(ratio, {1e-3, 4001});
  EXPECT_NEAR(step[4000], evaluate(ratio, Complex(0, 0)).real(), 1e-9);
  EXPECT_NEAR(step[4000], 7.0 / 12, 1e-9);  // the motional branch is a short to direct current
  EXPECT_NEAR(step[0], 7.0 / 12, 1e-9);     // and its capacitor one to the edge
}

TEST(TimeResponse, BurstSettlesToTheSolversSine) {
  const auto earphone = on(thiele_small("A"));
  const auto ratio = ratios(earphone, damping_source(resistive_source(10))).terminal;
  const double hz = 110.3;
  const Complex load = driving_point(circuit_of(thiele_small("A")), Array::Constant(1, hz))[0];
  const auto burst = burst_response(ratio, {hz, 60}, {1 / (200 * hz), 12001});
  EXPECT_NEAR(burst.volt.segment(11000, 900).maxCoeff(), std::abs(load / (load + 10.0)), 1e-4);
  EXPECT_NEAR(burst.envelope_volt[11500], std::abs(load / (load + 10.0)), 1e-6);
  EXPECT_TRUE((burst.envelope_volt + 1e-12 >= burst.volt.abs()).all());
}

TEST(TimeResponse, TailDecaysAsThePolesSay) {
  // After the end of the burst the envelope of a single pair falls as e^(sigma t), with or without
  // what the direct path adds before.
  const auto earphone = on(thiele_small("A"));
  const auto source = damping_source(resistive_source(100));
  const auto result = damping(earphone, {damping_source(resistive_source(0)), source});
  const auto ratio = ratios(earphone, source).terminal;
  const double hz = result.modes[0].at[1]->hz;
  const auto burst = burst_response(ratio, {hz, 10}, {1 / (100 * hz), 3001});
  const double seconds = 1e-3 * result.modes[0].at[1]->decay_20_db_ms;
  const double later = seconds * 100 * hz;
  const auto at = [&](double sample) {
    const auto i = static_cast<Eigen::Index>(sample);
    const double part = sample - static_cast<double>(i);
    return std::exp((1 - part) * std::log(burst.envelope_volt[i]) +
                    part * std::log(burst.envelope_volt[i + 1]));
  };
  EXPECT_NEAR(at(1010 + later) / at(1010), 0.1, 1e-9);
}

TEST(Locus, FollowsTheQuadraticThroughItsBranchPoint) {
  const auto earphone = on(thiele_small("C"));
  DampingOptions options;
  options.locus = true;
  const auto result = damping(earphone, resistances({0.1, 10}), options);
  ASSERT_TRUE(result.locus);
  ASSERT_EQ(result.locus->source_ohm.size(), 200);
  const MovingCoil coil = coil_of("C");
  for (Eigen::Index i = 0; i < 200; ++i) {
    const auto& mode = result.locus->modes[0][static_cast<std::size_t>(i)];
    ASSERT_TRUE(mode) << i;
    EXPECT_NEAR(mode->q / driver_q(coil, result.locus->source_ohm[i]).q_total, 1, 1e-9) << i;
  }
}

/// 10 ohm, resonances of 30 ohm (Q 4) and 12 ohm (Q 2), a rising and a falling real pole.
RationalModel two_resonances() {
  RationalModel model;
  model.constant = 10;
  const auto add = [&](double peak_ohm, double q, double w0) {
    const Complex pole = w0 * Complex(-1 / (2 * q), std::sqrt(1 - 1 / (4 * q * q)));
    model.pairs.push_back({pole, peak_ohm * (w0 / q) * pole / (pole - std::conj(pole))});
  };
  add(30, 4, 1e3);
  add(12, 2, 2e4);
  model.real = {{-50, 200}, {-4e5, -4e5}};
  return model;
}

TEST(Tracks, MoveContinuously) {
  const Array ohm = Array::LinSpaced(200, std::log(0.1), std::log(1e3)).exp();
  const auto behind = [](double series) {
    RationalModel model = two_resonances();
    model.constant += series;
    return model;
  };
  const auto tracks = track_zeros(behind, ohm, zeros(two_resonances()));
  ASSERT_EQ(tracks.rows(), 200);
  ASSERT_EQ(tracks.cols(), 6);
  for (Eigen::Index column = 0; column < tracks.cols(); ++column)
    for (Eigen::Index row = 1; row < tracks.rows(); ++row)
      EXPECT_LT(std::abs(tracks(row, column) - tracks(row - 1, column)),
                0.35 * std::abs(tracks(row, column)))
          << row << ' ' << column;
}

TEST(Tracks, EqualTheEigenvaluesEverywhere) {
  const auto earphone = damping_earphone(
      read_earphone(source_dir() / "impedance-curves/dynamic-armature-hybrid.circuit.toml"));
  const Array ohm = log_grid({0.01, 1e5}, 150);
  const auto behind = [&](double series) {
    RationalModel model = earphone.impedance;
    model.constant += series;
    return model;
  };
  const auto tracks = track_zeros(behind, ohm, zeros(earphone.impedance));
  for (Eigen::Index i = 0; i < ohm.size(); i += 29) {
    const auto exact = zeros(earphone.impedance, ohm[i]);
    std::vector<Complex> found;
    for (Eigen::Index j = 0; j < tracks.cols(); ++j) found.push_back(tracks(i, j));
    const auto ordered = continued(exact, found);
    for (std::size_t j = 0; j < exact.size(); ++j)
      EXPECT_LT(std::abs(ordered[j] - exact[j]), 1e-7 * std::abs(exact[j])) << ohm[i];
  }
}

class FromTheCurve : public testing::TestWithParam<const char*> {};

/// What the open mode adds to Z at its own frequency, relative to |Z| there.
double relative_peak(const RationalModel& impedance, const PairMode& open) {
  for (const PolePair& term : impedance.pairs)
    if (std::abs(term.pole - open.s1) + std::abs(term.pole - open.s2) <
        1.01 * std::abs(open.s1 - open.s2))
      return std::abs(term.residue / term.pole.real()) /
             std::abs(evaluate(impedance, Complex(0, term.pole.imag())));
  return 0;
}

const DampedMode& nearest_open(const std::vector<DampedMode>& modes, const PairMode& open) {
  const auto off = [&](const DampedMode& mode) {
    return mode.at.back() ? std::abs(mode.at.back()->hz / open.hz - 1) +
                                0.1 * std::abs(mode.at.back()->q / open.q - 1)
                          : 1e300;
  };
  return *std::min_element(modes.begin(), modes.end(),
                           [&](const auto& a, const auto& b) { return off(a) < off(b); });
}

TEST_P(FromTheCurve, ModesAreThoseOfTheCircuit) {
  // Every mode with a peak above 10 % of |Z|: within 2 % in Q and 0.5 % in frequency. A mode below
  // Q = 1/sqrt 2 has no peak.
  const auto path = [](const std::string& ending) {
    return source_dir() / "impedance-curves" / (std::string(GetParam()) + ending);
  };
  const auto sources = resistances({0.3, 6});
  const auto circuit = damping_earphone(read_earphone(path(".circuit.toml")));
  const auto exact = damping(circuit, sources).modes;
  const auto fitted = damping(damping_earphone(read_earphone(path(".csv"))), sources).modes;
  int compared = 0;
  for (const auto& mode : exact) {
    const auto& open = mode.at.back();
    if (!open || open->q < std::sqrt(0.5) || relative_peak(circuit.impedance, *open) < 0.1)
      continue;
    const auto& found = nearest_open(fitted, *open);
    for (std::size_t i = 0; i < mode.at.size(); ++i) {
      if (!mode.at[i] || mode.at[i]->q < std::sqrt(0.5)) continue;
      ASSERT_TRUE(found.at[i]) << open->hz << " Hz, " << i;
      EXPECT_NEAR(found.at[i]->q / mode.at[i]->q, 1, 0.02) << open->hz << " Hz, " << i;
      EXPECT_NEAR(found.at[i]->hz / mode.at[i]->hz, 1, 0.005) << open->hz << " Hz, " << i;
      ++compared;
    }
  }
  EXPECT_GE(compared, std::string(GetParam()) == "planar" ? 0 : 4);
}

TEST(CurveDriver, TheDriverOfASingleDynamic) {
  // As in the demo's circuit: Re with its cable 16.5 + 0.5, Qms 1.6, Qes for that Re.
  const auto folder = source_dir() / "impedance-curves";
  const auto coil = damping_earphone(read_earphone(folder / "single-dynamic.csv")).moving_coil;
  const auto stated =
      damping_earphone(read_earphone(folder / "single-dynamic.circuit.toml")).moving_coil;
  ASSERT_TRUE(coil && stated);
  EXPECT_NEAR(coil->resonance_hz / stated->resonance_hz, 1, 1e-3);
  EXPECT_NEAR(coil->q_mechanical / stated->q_mechanical, 1, 2e-3);
  EXPECT_NEAR(coil->q_electrical / coil->dc_ohm * stated->dc_ohm / stated->q_electrical, 1, 5e-3);
}

INSTANTIATE_TEST_SUITE_P(Demos, FromTheCurve,
                         testing::Values("single-dynamic", "planar", "two-way-armature",
                                         "five-armature", "dynamic-armature-hybrid",
                                         "dynamic-piezo-hybrid"));

}  // namespace
}  // namespace ohmtilt::test
