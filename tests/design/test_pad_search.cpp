#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/design/pad/pareto_front.h>
#include <ohmtilt/text/error.h>

#include <random>

#include "tests/design/pads.h"

namespace ohmtilt::test {
namespace {

PadSearchOptions wanting(double db, double within_db, std::vector<PadTopology> topologies,
                         std::vector<double> values) {
  PadSearchOptions options;
  options.topologies = std::move(topologies);
  options.values_ohm = std::move(values);
  options.target = {db, within_db};
  options.draws.samples = 20;
  return options;
}

/// What the whole program says of a pad: by the nodal solver and the comparison of sources, with
/// nothing of the search in it.
struct Judged {
  Pad pad;
  Costs costs;
};

Judged judge(const Pad& pad, const Earphone& earphone, double source_ohm, double asked_db) {
  Source source;
  source.output_ohm = source_ohm;
  const Chain padded("padded", source, {pad});
  const auto all =
      compare_sources(earphone, resistive_source(source_ohm), {thevenin_source(padded)}, {});
  const auto& compared = all.cases[0];
  return {pad,
          {compared.output_ohm, compared.deviation.span_db,
           -input_ohm(padded, earphone.impedance, all.grid.grid_hz).abs().minCoeff(),
           std::abs(-compared.deviation.level_change_db - asked_db)}};
}

std::vector<Pad> every_pad(PadTopology topology, const std::vector<double>& values) {
  std::vector<Pad> pads{{topology, {}, 0}};
  for (std::size_t arm = 0; arm < pad_keys(topology).size(); ++arm) {
    std::vector<Pad> longer;
    for (const Pad& pad : pads)
      for (const double ohm : values) {
        longer.push_back(pad);
        longer.back().ohm.push_back(ohm);
      }
    pads = std::move(longer);
  }
  return pads;
}

std::vector<std::vector<double>> by_brute_force(PadTopology topology,
                                                const std::vector<double>& values, double db,
                                                double within_db) {
  std::vector<Judged> kept;
  for (const Pad& pad : every_pad(topology, values)) {
    const Judged judged = judge(pad, resonant_earphone(), 0.3, db);
    if (judged.costs[3] <= within_db) kept.push_back(judged);
  }
  std::vector<std::vector<double>> front;
  for (const auto& one : kept)
    if (std::none_of(kept.begin(), kept.end(), [&](const Judged& other) {
          bool better = false;
          for (std::size_t i = 0; i < 4; ++i) {
            // What differs by rounding alone is the same.
            if (other.costs[i] > one.costs[i] + 1e-9) return false;
            better = better || other.costs[i] < one.costs[i] - 1e-9;
          }
          return better;
        }))
      front.push_back(one.pad.ohm);
  std::sort(front.begin(), front.end());
  return front;
}

TEST(PadSearch, EqualsBruteForceThroughTheSolver) {
  const auto e6 = preferred_values(Series::E6, 2.2, 100);
  const auto e3 = preferred_values(Series::E3, 4.7, 47);
  for (const auto& [topology, values] :
       std::vector<std::pair<PadTopology, std::vector<double>>>{{PadTopology::L, e6},
                                                                {PadTopology::T, e3},
                                                                {PadTopology::pi, e3},
                                                                {PadTopology::O, e3}}) {
    const auto expected = by_brute_force(topology, values, 10, 2);
    const auto found =
        search_pads(site_of(resonant_earphone(), 0.3), wanting(10, 2, {topology}, values));
    std::vector<std::vector<double>> ours;
    for (const auto& one : found.candidates) ours.push_back(one.pad.ohm);
    std::sort(ours.begin(), ours.end());
    EXPECT_EQ(ours, expected) << topology_name(topology);
    EXPECT_GE(expected.size(), 2u);
    EXPECT_EQ(found.searched, std::pow(double(values.size()), double(pad_keys(topology).size())));
  }
}

TEST(PadSearch, MarksTheSameFrontWhenTheOthersAreListedToo) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options =
      wanting(10, 1, {PadTopology::L, PadTopology::pi}, preferred_values(Series::E12, 3.3, 150));
  const auto front = search_pads(site, options);
  options.dominated_too = true;
  const auto all = search_pads(site, options);
  std::vector<std::vector<double>> marked, alone;
  for (const auto& one : all.candidates)
    if (one.pareto) marked.push_back(one.pad.ohm);
  for (const auto& one : front.candidates) alone.push_back(one.pad.ohm);
  EXPECT_EQ(marked, alone);
  EXPECT_GT(all.candidates.size(), marked.size());
  EXPECT_EQ(all.candidates[*all.recommended].pad.ohm, front.candidates[*front.recommended].pad.ohm);
}

/// The limits only take away; what stays keeps them.
TEST(PadSearch, LimitsAreMonotone) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options = wanting(10, 1, {PadTopology::L}, preferred_values(Series::E24, 2, 200));
  options.dominated_too = true;
  std::size_t before = search_pads(site, options).candidates.size();
  for (const double limit : {8.0, 4.0, 2.0, 1.0}) {
    options.limits.output_ohm = limit;
    options.limits.span_db = limit / 4;
    const auto found = search_pads(site, options);
    EXPECT_LE(found.candidates.size(), before);
    before = found.candidates.size();
    for (const auto& one : found.candidates) {
      EXPECT_LE(one.output_ohm, limit);
      EXPECT_LE(one.span_db, limit / 4);
      EXPECT_LE(std::abs(one.attenuation_error_db), 1);
    }
  }
  options.limits = {};
  options.limits.input_ohm = 20;
  options.limits.dissipation_milliwatt = 10;
  options.limits.noise_volt = 5e-8;
  for (const auto& one : search_pads(site, options).candidates) {
    EXPECT_GE(one.input_min_ohm, 20);
    EXPECT_LE(one.noise_volt_a_weighted, 5e-8);
    for (const double milliwatt : one.dissipation_milliwatt) EXPECT_LE(milliwatt, 10);
  }
  options.limits = {};
  options.limits.parts = 1;
  EXPECT_TRUE(search_pads(site, options).candidates.empty());
}

TEST(PadSearch, RecommendsWhatLoadsNoMoreThanTheEarphone) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  const auto found =
      search_pads(site, wanting(10, 0.5, {PadTopology::L}, preferred_values(Series::E24, 1, 1000)));
  ASSERT_TRUE(found.recommended);
  const auto& best = found.candidates[*found.recommended];
  EXPECT_GE(best.input_min_ohm, site.load_min_ohm());
  for (const auto& one : found.candidates)
    EXPECT_TRUE(one.span_db >= best.span_db - 0.01 || one.input_min_ohm < site.load_min_ohm());
  EXPECT_NE(found.reason.find("smallest span"), std::string::npos);
}

/// A pad on the front with these figures, which load no amplifier.
PadCandidate candidate(Pad pad, double span_db, double error_db) {
  PadCandidate one;
  one.pad = std::move(pad);
  one.span_db = span_db;
  one.attenuation_error_db = error_db;
  one.input_min_ohm = 100;
  one.pareto = true;
  return one;
}

// Spans that differ by 0.01 dB are the same to any ear: then a resistor saved counts, and among as
// many resistors what comes nearest to the asked loss.
TEST(PadSearch, RecommendsFewerPartsWhereSpansAreAlike) {
  const Pad pi{PadTopology::pi, {270, 13, 1.5}, 1}, l{PadTopology::L, {13, 1.5}, 1};
  const Pad near{PadTopology::L, {12, 1.5}, 1};
  EXPECT_EQ(recommended_pad({candidate(pi, 0.450951, 0.2), candidate(l, 0.450952, 0.3)}, {}).index,
            1u);
  EXPECT_EQ(recommended_pad({candidate(pi, 0.40, 0.2), candidate(l, 0.45, 0.2)}, {}).index, 0u);
  EXPECT_EQ(recommended_pad({candidate(l, 0.450, -0.3), candidate(near, 0.455, 0.1)}, {}).index,
            1u);
  // However far from the asked loss --within lets it be: 60.12 dB for 60.
  EXPECT_EQ(recommended_pad({candidate(pi, 5.03, 0), candidate(l, 1.12, 0.12)}, {}).index, 1u);
  // Where all load the amplifier too much, the lightest load; to 1 %, the fewer parts.
  EXPECT_EQ(recommended_pad({candidate(pi, 0.4, 0), candidate(l, 0.5, 0)}, {200, {}}).index, 1u);
}

TEST(PadSearch, RecommendsWithinTheAmplifiersCurrentIfItCan) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options = wanting(10, 0.5, {PadTopology::L}, preferred_values(Series::E24, 1, 1000));
  const auto free = search_pads(site, options);
  options.max_ampere = 0.5 * free.candidates[*free.recommended].largest_ampere;
  const auto limited = search_pads(site, options);
  const auto& best = limited.candidates[*limited.recommended];
  EXPECT_LE(best.largest_ampere, *options.max_ampere);
  EXPECT_GT(best.span_db, free.candidates[*free.recommended].span_db);
  EXPECT_EQ(limited.candidates.size(), free.candidates.size());  // it limits the advice alone
  EXPECT_NE(limited.reason.find(" mA"), std::string::npos);
}

// pi_pad_50ohm_preferred_values.csv: the loss of 50 ohm pi pads from preferred values as printed in
// a public parts list (see the file).
TEST(PadSearch, GivesThePublishedLossesOfPreferredValues) {
  const PadSite site = site_of(resistive_earphone(50), 50);
  int rows = 0;
  for (const auto& row : csv_rows(data("pi_pad_50ohm_preferred_values.csv"))) {
    const double shunt = std::stod(row.at("shunt_each_ohm"));
    const double series = std::stod(row.at("series_ohm"));
    const auto found = evaluate_pads(site, {{PadTopology::pi, {shunt, series, shunt}, 1}},
                                     wanting(10, 1, {PadTopology::pi}, {}));
    EXPECT_NEAR(found.candidates[0].attenuation_db, std::stod(row.at("published_actual_dB")),
                0.0055);  // its rounding
    EXPECT_NEAR(found.candidates[0].input_min_ohm, std::stod(row.at("input_resistance_ohm")),
                5.1e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 9);
}

TEST(PadSearch, RefusesWhatLeavesNothingToDo) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  const auto refuse = [&](PadSearchOptions options) {
    EXPECT_THROW(search_pads(site, options), InputError);
  };
  const std::vector<double> values{10, 20};
  refuse(wanting(0, 1, {PadTopology::L}, values));
  refuse(wanting(10, 0, {PadTopology::L}, values));
  refuse(wanting(10, 1, {PadTopology::L}, {}));
  refuse(wanting(10, 1, {PadTopology::L}, {10, 0}));
  refuse(wanting(10, 1, {PadTopology::bridged_T}, preferred_values(Series::E192, 1, 100)));
  auto negative = wanting(10, 1, {PadTopology::L}, values);
  negative.limits.span_db = -1;
  refuse(negative);
  auto none = wanting(10, 1, {PadTopology::L}, values);
  none.limits.parts = 0;
  refuse(none);
}

bool dominates(const Costs& a, const Costs& b) {
  return a[0] <= b[0] && a[1] <= b[1] && a[2] <= b[2] && a[3] <= b[3] && a != b;
}

TEST(ParetoFront, EqualsTheDefinitionOnRandomCosts) {
  std::mt19937 random(3);
  std::uniform_int_distribution<int> step(0, 9);  // coarse, so that ties and equals come up
  std::vector<Costs> costs(800);
  for (auto& cost : costs)
    for (double& value : cost) value = step(random);
  std::vector<std::size_t> expected;
  for (std::size_t i = 0; i < costs.size(); ++i)
    if (std::none_of(costs.begin(), costs.end(),
                     [&](const Costs& other) { return dominates(other, costs[i]); }))
      expected.push_back(i);
  EXPECT_EQ(pareto_front(costs), expected);
  EXPECT_TRUE(pareto_front({}).empty());
}

}  // namespace
}  // namespace ohmtilt::test
