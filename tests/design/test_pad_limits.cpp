#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/design/pad/nearest_pad.h>
#include <ohmtilt/design/pad/switched_attenuator.h>
#include <ohmtilt/text/error.h>

#include "tests/design/pads.h"

namespace ohmtilt::test {
namespace {

PadSearchOptions all_l_pads(double db, double within_db, double highest_ohm) {
  PadSearchOptions options;
  options.values_ohm = preferred_values(Series::E24, 2, highest_ohm);
  options.target = {db, within_db};
  options.draws.samples = 20;
  options.dominated_too = true;
  return options;
}

double hottest_of(const PadCandidate& pad) {
  return *std::max_element(pad.dissipation_milliwatt.begin(), pad.dissipation_milliwatt.end());
}

// A limit that is a pad's own figure is kept by it, to the last bit.
TEST(PadLimits, KeepAPadThatStandsAtThem) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options = all_l_pads(10, 1, 200);
  const auto all = search_pads(site, options).candidates;
  ASSERT_GT(all.size(), 50u);
  for (const auto& one : all) {
    options.limits = {one.span_db,
                      one.output_ohm,
                      one.input_min_ohm,
                      hottest_of(one),
                      one.noise_volt_a_weighted,
                      resistor_count(one.pad.topology)};
    const auto kept = search_pads(site, options).candidates;
    EXPECT_TRUE(std::any_of(kept.begin(), kept.end(),
                            [&](const auto& other) { return other.pad.ohm == one.pad.ohm; }))
        << one.pad.ohm[0] << " " << one.pad.ohm[1];
  }
}

// The factors are worked by hand; what is at a limit or has none is not named.
TEST(PadLimits, NameWhatIsExceededAndByWhatFactor) {
  PadCandidate pad;
  pad.pad = {PadTopology::T, {1, 1, 1}, 1};
  pad.span_db = 3;
  pad.output_ohm = 2;
  pad.input_min_ohm = 8;
  pad.dissipation_milliwatt = {1, 5, 2};
  pad.noise_volt_a_weighted = 4e-8;
  EXPECT_TRUE(exceeded(pad, {}).empty());
  EXPECT_TRUE(exceeded(pad, {3, 2, 8, 5, 4e-8, 3}).empty());
  const auto all = exceeded(pad, {2, 1.6, 12, 2, 1e-8, 2});
  const std::vector<std::pair<PadLimit, double>> expected{
      {PadLimit::span, 1.5},        {PadLimit::output, 1.25}, {PadLimit::input, 1.5},
      {PadLimit::dissipation, 2.5}, {PadLimit::noise, 4},     {PadLimit::parts, 1.5}};
  ASSERT_EQ(all.size(), expected.size());
  for (std::size_t i = 0; i < all.size(); ++i) {
    EXPECT_EQ(all[i].limit, expected[i].first);
    EXPECT_NEAR(all[i].times, expected[i].second, 1e-12);
  }
  EXPECT_EQ(all[2].value, 8);
  EXPECT_EQ(all[2].allowed, 12);
}

TEST(PadLimits, NameTheStepOfASwitchThatExceedsMost) {
  SwitchedAttenuator ladder;
  ladder.ohm = {1, 2, 3};
  for (const auto& [db, span_db, input_ohm] :
       std::vector<std::array<double, 3>>{{0, 1, 5}, {6, 4, 6}, {12, 3, 20}}) {
    SwitchedAttenuator::Step step;
    step.asked_db = db;
    step.span_db = span_db;
    step.input_min_ohm = input_ohm;
    step.dissipation_milliwatt = {0, 0, 0};
    ladder.steps.push_back(step);
  }
  PadLimits limits;
  limits.span_db = 2;
  limits.input_ohm = 10;
  limits.parts = 2;
  const auto all = exceeded(ladder, limits);
  ASSERT_EQ(all.size(), 3u);
  EXPECT_EQ(all[0].excess.limit, PadLimit::input);  // the first step already
  EXPECT_EQ(all[0].asked_db, 0);
  EXPECT_NEAR(all[0].excess.times, 2, 1e-12);
  EXPECT_EQ(all[1].excess.limit, PadLimit::span);
  EXPECT_EQ(all[1].asked_db, 6);
  EXPECT_NEAR(all[1].excess.times, 2, 1e-12);
  EXPECT_EQ(all[2].excess.limit, PadLimit::parts);
  EXPECT_FALSE(all[2].asked_db);
}

// By going through all pads: none has a smaller worst factor than the nearest.
TEST(NearestPad, HasTheLeastExcessOfAllPads) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options = all_l_pads(10, 1, 200);
  const auto all = search_pads(site, options).candidates;
  const double span_db = 0.1, input_ohm = 60;
  const auto factor = [&](const PadCandidate& one) {
    return std::max(one.span_db / span_db, input_ohm / one.input_min_ohm);
  };
  options.limits.span_db = span_db;
  options.limits.input_ohm = input_ohm;
  ASSERT_TRUE(search_pads(site, options).candidates.empty());
  const auto near = nearest_pad(site, options);
  ASSERT_TRUE(near);
  EXPECT_EQ(near->exceeded.size(), 2u);
  EXPECT_LE(std::abs(near->pad.attenuation_error_db), 1);
  for (const auto& one : all) EXPECT_GE(factor(one), factor(near->pad));
}

TEST(NearestPad, IsThatOfTheNearestLossWhereNoneHasIt) {
  const PadSite site = site_of(resonant_earphone(), 0.3);
  auto options = all_l_pads(60, 0.5, 20);
  const auto near = nearest_pad(site, options);
  ASSERT_TRUE(near);
  EXPECT_TRUE(near->exceeded.empty());
  EXPECT_EQ(near->pad.pad.ohm, (std::vector<double>{20, 2}));  // the most loss there is
  options.topologies = {PadTopology::bridged_T};
  options.values_ohm = preferred_values(Series::E24, 1, 1000);  // 73^4, too many to go through
  EXPECT_FALSE(nearest_pad(site, options));
}

}  // namespace
}  // namespace ohmtilt::test
