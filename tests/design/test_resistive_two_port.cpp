// The pad as chain parameters against the nodal solver, which knows nothing of them.
#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/design/pad/pad_tolerance.h>

#include <random>

#include "tests/design/pads.h"

namespace ohmtilt::test {
namespace {

const std::vector<PadTopology> all_topologies{
    PadTopology::series, PadTopology::L, PadTopology::T,         PadTopology::pi,
    PadTopology::H,      PadTopology::O, PadTopology::bridged_T, PadTopology::U};

Pad pad_of_chance(PadTopology topology, std::mt19937& random) {
  std::uniform_real_distribution<double> exponent(-0.5, 2.5);
  Pad pad{topology, {}, 0};
  for (std::size_t i = 0; i < pad_keys(topology).size(); ++i)
    pad.ohm.push_back(std::pow(10, exponent(random)));
  return pad;
}

/// A source that is no resistance: 3 ohm, 10 uH and 100 uF in series.
Chain reactive_chain() {
  Source source;
  source.output_ohm = 3;
  source.output_henry = 1e-5;
  source.output_farad = 1e-4;
  source.max_ampere = 0.05;
  return {"reactive", source, {Cable{0.2, 0, 1e-6, 1e-9}}};
}

void expect_agrees(const Chain& bare, const Pad& pad, const Earphone& earphone) {
  const PadSite site(earphone, thevenin_source(bare), {});
  const ResistiveTwoPort matrix = two_port(pad);
  std::vector<Stage> stages = bare.stages();
  stages.emplace_back(pad);
  const Chain padded = bare.with_stages(stages);
  const auto compared =
      compare_sources(earphone, thevenin_source(bare), {thevenin_source(padded)}, {}).cases[0];
  const std::string name(topology_name(pad.topology));
  EXPECT_NEAR(site.attenuation_db(matrix), -compared.deviation.level_change_db, 1e-9) << name;
  EXPECT_NEAR(site.span_db(matrix), compared.deviation.span_db, 1e-9) << name;
  EXPECT_NEAR(site.output_ohm(matrix) / compared.output_ohm, 1, 1e-10) << name;
  const double least_ohm = input_ohm(padded, earphone.impedance, site.grid_hz()).abs().minCoeff();
  EXPECT_NEAR(site.input_min_ohm(matrix) / least_ohm, 1, 1e-10) << name;
}

TEST(ResistiveTwoPort, GivesWhatTheSolverGivesForEveryTopologyAndSource) {
  std::mt19937 random(7);
  Source plain;
  plain.output_ohm = 0.3;
  for (const PadTopology topology : all_topologies)
    for (int i = 0; i < 4; ++i) {
      const Pad pad = pad_of_chance(topology, random);
      expect_agrees(Chain("plain", plain, {}), pad, resonant_earphone());
      expect_agrees(reactive_chain(), pad, resonant_earphone());
    }
}

TEST(ResistiveTwoPort, IsReciprocal) {
  std::mt19937 random(8);
  for (const PadTopology topology : all_topologies) {
    const auto m = two_port(pad_of_chance(topology, random));
    EXPECT_NEAR((m.a * m.d - m.b_ohm * m.c_siemens) / (m.a * m.d), 1 / (m.a * m.d), 1e-12);
  }
}

TEST(ResistiveTwoPort, OfABridgeWithoutSeriesArmsIsItsShuntAlone) {
  const auto m = bridged_tee_two_port(0, 0, 50, 100);
  EXPECT_EQ(m.a, 1);
  EXPECT_EQ(m.b_ohm, 0);
  EXPECT_DOUBLE_EQ(m.c_siemens, 0.02);
  EXPECT_EQ(m.d, 1);
}

TEST(PadSite, CountsTheResistorsOfBothLegs) {
  EXPECT_EQ(resistor_count(PadTopology::series), 1);
  EXPECT_EQ(resistor_count(PadTopology::L), 2);
  EXPECT_EQ(resistor_count(PadTopology::bridged_T), 4);
  EXPECT_EQ(resistor_count(PadTopology::O), 4);
  EXPECT_EQ(resistor_count(PadTopology::H), 5);
  EXPECT_EQ(resistor_count(PadTopology::U), 3);
}

double solver_milliwatt(const Chain& padded, const std::string& part, const Earphone& earphone,
                        const Array& hz) {
  ChainCircuitOptions options;
  options.earphone = earphone.impedance;
  for (const auto& branch : own_branches(Circuit(chain_circuit(padded, options)), hz))
    if (branch.part == part) return 1000 * branch.power_watt().real().maxCoeff();
  ADD_FAILURE() << part;
  return 0;
}

TEST(PadSite, DissipatesWhatTheSolverSays) {
  std::mt19937 random(9);
  for (const PadTopology topology : all_topologies) {
    const Earphone earphone = resonant_earphone();
    const Chain bare = reactive_chain();
    const PadSite site(earphone, thevenin_source(bare), {});
    const Pad pad = pad_of_chance(topology, random);
    std::vector<Stage> stages = bare.stages();
    stages.emplace_back(pad);
    const Chain padded = bare.with_stages(stages);
    const auto watt = site.dissipation_watt(pad);
    for (std::size_t i = 0; i < watt.size(); ++i) {
      std::string key = pad_keys(topology)[i];
      key = "stage 2: pad." + key.substr(0, key.size() - 4);  // without "_ohm"
      const double expected = solver_milliwatt(padded, key, earphone, site.grid_hz());
      EXPECT_NEAR(1000 * watt[i] / expected, 1, 1e-9) << topology_name(topology) << " " << key;
    }
    const double ampere = (1 / driving_point(Circuit([&] {
                                               ChainCircuitOptions o;
                                               o.source = false;
                                               o.earphone = earphone.impedance;
                                               return chain_circuit(padded, o);
                                             }()),
                                             site.grid_hz(), "amplifier"))
                              .abs()
                              .maxCoeff();
    EXPECT_GT(ampere, site.largest_ampere(two_port(pad)));  // its own impedance limits it further
  }
}

TEST(PadSite, AmplifierGivesNoMoreThanOpenVoltOverTheWholeLoop) {
  // Ideal source, resistive earphone: 1 V over 18 + 9.1 || 16 ohm, by hand.
  const PadSite site = site_of(resistive_earphone(16), 0);
  const auto pad = two_port(PadTopology::L, std::vector{18.0, 9.1});
  EXPECT_NEAR(site.largest_ampere(pad), 1 / (18 + 9.1 * 16 / 25.1), 1e-14);
  EXPECT_NEAR(site.input_min_ohm(pad), 18 + 9.1 * 16 / 25.1, 1e-12);
}

TEST(PadSite, NoiseIsThatOfThePadAloneAtTheOpenTerminals) {
  // The solver's thermal noise of each resistor, integrated with the A-weighting by hand.
  std::mt19937 random(10);
  Source source;
  source.output_ohm = 25;
  for (const PadTopology topology : all_topologies) {
    const Pad pad = pad_of_chance(topology, random);
    const Chain padded("noisy", source, {pad});
    const Array hz = Array::LinSpaced(4000, 20, 20000);
    const auto noise = thermal_noise(Circuit(chain_circuit(padded)), hz, "earphone");
    double square = 0;
    for (const auto& part : noise.parts)
      if (part.part.rfind("stage", 0) == 0) square += std::pow(part.volt_per_root_hz[0], 2);
    double hertz = 0;
    for (Eigen::Index i = 0; i < hz.size(); ++i)
      hertz += power_from_db(a_weighting_db(hz[i])) * (hz[1] - hz[0]);
    const PadSite site(resonant_earphone(), thevenin_source(Chain("bare", source, {})), {});
    EXPECT_NEAR(site.noise_volt_a_weighted(two_port(pad)) / std::sqrt(square * hertz), 1, 2e-4)
        << topology_name(topology);
  }
}

TEST(PadSite, MeansOverAnAnchorBandAsTheDeviationDoes) {
  PadSiteOptions options;
  options.anchor = AnchorBand{300, 3000};
  const PadSite site(resonant_earphone(), resistive_source(1), options);
  Source source;
  source.output_ohm = 1;
  const Pad pad{PadTopology::L, {18, 9.1}, 0};
  ComparisonOptions how;
  how.anchor = options.anchor;
  const auto compared = compare_sources(resonant_earphone(), resistive_source(1),
                                        {thevenin_source(Chain("padded", source, {pad}))}, how);
  EXPECT_NEAR(site.attenuation_db(two_port(pad)), -compared.cases[0].deviation.level_change_db,
              1e-10);
}

TEST(PadDraws, OverAnAnchorBandMoveAsItsMeanDoes) {
  // A band as narrow as a point moves like the point.
  PadSiteOptions narrow, point;
  narrow.anchor = AnchorBand{999.9, 1000.1};
  const Pad pad{PadTopology::L, {18, 9.1}, 5};
  const PadDraws draws(default_pad_draws());
  const auto over_band = draws.spread(site_of(resonant_earphone(), 1, narrow), pad);
  const auto at_point = draws.spread(site_of(resonant_earphone(), 1, point), pad);
  EXPECT_NEAR(over_band.attenuation_p95_db, at_point.attenuation_p95_db, 1e-6);
  EXPECT_NEAR(over_band.channel_difference_p95_db, at_point.channel_difference_p95_db, 1e-6);
}

TEST(PadSite, RulesOutOnlyWhatIsOutsideOverAnAnchorBand) {
  PadSiteOptions options;
  options.anchor = AnchorBand{100, 10000};
  const PadSite site = site_of(resonant_earphone(), 0.5, options);
  std::mt19937 random(11);
  int ruled_out = 0;
  for (int i = 0; i < 400; ++i)
    for (const PadTopology topology : all_topologies) {
      const auto pad = two_port(pad_of_chance(topology, random));
      const double power = site.attenuation_power(pad);
      EXPECT_TRUE(site.may_attenuate(pad, power * (1 - 1e-9), power * (1 + 1e-9)));
      EXPECT_TRUE(site.may_attenuate(pad, power, power));
      if (!site.may_attenuate(pad, power * 1.05, power * 2)) ++ruled_out;
    }
  EXPECT_EQ(ruled_out, 400 * int(std::size(all_topologies)));
}

/// The p95 figures by every draw on its own and plain sorting.
PadSpread spread_by_sorting(const PadSite& site, const Pad& pad, const ToleranceOptions& options) {
  const Draws draws = Draws::random(options);
  const auto counts = resistors_per_value(pad.topology);
  std::vector<double> db;
  for (Eigen::Index draw = 0; draw < draws.count(); ++draw) {
    Pad varied = pad;
    std::size_t resistor = 0;
    for (std::size_t arm = 0; arm < pad.ohm.size(); ++arm) {
      double deviate = draws.deviate(draw, resistor++);
      if (counts[arm] == 2) deviate = (deviate + draws.deviate(draw, resistor++)) / 2;
      varied.ohm[arm] *= 1 + pad.tolerance_percent / 100 * deviate;
    }
    db.push_back(site.attenuation_db(two_port(varied)));
  }
  const auto p95 = [](std::vector<double> values) {
    std::sort(values.begin(), values.end());
    const double place = 0.95 * double(values.size() - 1);
    const auto at = static_cast<std::size_t>(place);
    return values[at] + (place - double(at)) * (values[at + 1] - values[at]);
  };
  const double nominal_db = site.attenuation_db(two_port(pad));
  std::vector<double> differences;
  for (std::size_t i = 0; i < db.size() / 2; ++i)
    differences.push_back(std::abs(db[i] - db[i + db.size() / 2]));
  for (double& one : db) one = std::abs(one - nominal_db);
  return {p95(db), p95(differences)};
}

TEST(PadDraws, EqualDrawingAndSortingOneByOne) {
  std::mt19937 random(12);
  PadSiteOptions band;
  band.anchor = AnchorBand{300, 3000};
  const PadSite at_point = site_of(resonant_earphone(), 0.5);
  const PadSite over_band = site_of(resonant_earphone(), 0.5, band);
  for (const PadTopology topology : all_topologies)
    for (const long samples : {50L, 999L, 5000L}) {
      Pad pad = pad_of_chance(topology, random);
      pad.tolerance_percent = 5;
      ToleranceOptions options;
      options.samples = samples;
      for (const PadSite* site : {&at_point, &over_band}) {
        const auto found = PadDraws(options).spread(*site, pad);
        const auto expected = spread_by_sorting(*site, pad, options);
        const double limit_db = site == &at_point ? 1e-9 : 1e-5;  // a series over a band
        EXPECT_NEAR(found.attenuation_p95_db, expected.attenuation_p95_db, limit_db);
        EXPECT_NEAR(found.channel_difference_p95_db, expected.channel_difference_p95_db, limit_db);
      }
    }
}

TEST(PadDraws, OfNoToleranceSpreadNothing) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  const auto spread =
      PadDraws(default_pad_draws()).spread(site, {PadTopology::T, {18, 9.1, 3.3}, 0});
  EXPECT_EQ(spread.attenuation_p95_db, 0);
  EXPECT_EQ(spread.channel_difference_p95_db, 0);
}

TEST(PadDraws, OfASeriesResistorFollowTheUniformDistribution) {
  // 16 ohm into 16 ohm, 10 %: the loss is 20 lg(2 + 0.1 u); 95 % of |u| lie below 0.95. Of the
  // difference of two uniform deviates, with its triangular density, 95 % lie below
  // 2 - sqrt(0.2); both to first order in the tolerance, and within sampling error.
  const PadSite site = site_of(resistive_earphone(16), 0);
  ToleranceOptions many;
  many.samples = 100'000;
  const auto spread = PadDraws(many).spread(site, {PadTopology::series, {16}, 10});
  const double db_per_unit = 20 / std::log(10.0) * 0.1 / 2;
  EXPECT_NEAR(spread.attenuation_p95_db / (0.95 * db_per_unit), 1, 0.05);
  EXPECT_NEAR(spread.channel_difference_p95_db / ((2 - std::sqrt(0.2)) * db_per_unit), 1, 0.03);
}

}  // namespace
}  // namespace ohmtilt::test
