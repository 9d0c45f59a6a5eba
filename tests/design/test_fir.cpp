#include <cmath>
#include <numbers>

#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/design/equalizer/biquad.h>
#include <ohmtilt/design/equalizer/fir.h>
#include <ohmtilt/text/error.h>

#include "tests/design/pads.h"
#include "tests/support.h"

namespace ohmtilt {
namespace {

using test::grid_hz;
const Filter bend{FilterKind::peaking, 2000, 5, 1};

Array deviation_of(const Filter& filter) {
  return response_db(filter, SampledGrid(grid_hz, 48000));
}

FirOptions with(FirPhase phase, int taps = 4095) { return {taps, 48000, phase}; }

TEST(Fir, UndoesADeviation) {
  for (const auto phase : {FirPhase::minimum, FirPhase::linear}) {
    const Array sum = deviation_of(bend) +
                      response_db(inverse_fir(grid_hz, deviation_of(bend), with(phase)), grid_hz);
    EXPECT_LT(sum.maxCoeff() - sum.minCoeff(), 0.002) << to_string(phase);
  }
}

TEST(Fir, OfLinearPhaseIsSymmetricAndDelaysByHalfItsLength) {
  const Fir fir = inverse_fir(grid_hz, deviation_of(bend), with(FirPhase::linear, 1001));
  EXPECT_LT((fir.taps - fir.taps.reverse()).abs().maxCoeff(), 1e-15);
  EXPECT_DOUBLE_EQ(fir.delay_s, 500.0 / 48000);
}

// A peaking filter is minimum-phase, so the minimum-phase inverse of one is the impulse response of
// the filter of opposite gain: a recursion by hand with the cookbook's coefficients.
TEST(Fir, OfMinimumPhaseIsTheImpulseResponseOfTheOppositeFilter) {
  const Fir fir = inverse_fir(grid_hz, deviation_of(bend), with(FirPhase::minimum));
  const Biquad opposite = biquad({FilterKind::peaking, 2000, -5, 1}, 48000);
  const double scale = fir.taps[0] / opposite.b[0];
  double y1 = 0;
  double y2 = 0;
  for (int k = 0; k < 200; ++k) {
    const double x = k < 3 ? opposite.b[static_cast<std::size_t>(k)] : 0;
    const double y = x - opposite.a[1] * y1 - opposite.a[2] * y2;
    // The target stays level beyond 20 kHz where the filter still falls a little.
    EXPECT_NEAR(fir.taps[k] / scale, y, 1e-3);
    y2 = y1;
    y1 = y;
  }
}

TEST(Fir, NeverRaisesATone) {
  Array fine(4001);
  fine << 0, log_grid({1, 24000}, 4000);
  for (const auto phase : {FirPhase::minimum, FirPhase::linear})
    for (const double sign : {1.0, -1.0}) {
      const Fir fir = inverse_fir(grid_hz, sign * deviation_of(bend), with(phase));
      const double highest_db = response_db(fir, fine).maxCoeff();
      EXPECT_LE(highest_db, 0);
      EXPECT_GT(highest_db, -0.03);  // what the limit between grid points costs at most
      EXPECT_LE(fir.lead_level_db, 0);
    }
}

TEST(Fir, OfNoDeviationIsASinglePulse) {
  const Fir minimum = inverse_fir(grid_hz, Array::Constant(480, 3), with(FirPhase::minimum));
  EXPECT_NEAR(minimum.taps[0], 1, 0.003);
  EXPECT_LT(minimum.taps.tail(4094).abs().maxCoeff(), 1e-12);
  const Fir linear = inverse_fir(grid_hz, Array::Constant(480, 3), with(FirPhase::linear, 31));
  EXPECT_NEAR(linear.taps[15], 1, 0.003);
}

TEST(Fir, HoldsTheEndsBeyondTheData) {
  const Array hz = log_grid({100, 5000}, 50);
  const Array db = 2 * (hz / 1000).log();
  const Fir fir = inverse_fir(hz, db, with(FirPhase::minimum, 8191));
  Array outside(4);
  outside << 30, 100, 5000, 15000;
  const Array found = response_db(fir, outside);
  EXPECT_NEAR(found[0], found[1], 0.1);
  EXPECT_NEAR(found[2], found[3], 0.1);
  EXPECT_NEAR(found[0] - found[3], 2 * std::log(50), 0.1);
}

TEST(Fir, MoreTapsLeaveLess) {
  const auto left = [](int taps) {
    const Filter low{FilterKind::low_shelf, 60, -6, 0.7};
    const Array sum = deviation_of(low) + response_db(inverse_fir(grid_hz, deviation_of(low),
                                                                  with(FirPhase::minimum, taps)),
                                                      grid_hz);
    return sum.maxCoeff() - sum.minCoeff();
  };
  EXPECT_GT(left(255), left(1023));
  EXPECT_GT(left(1023), left(8191));
  EXPECT_LT(left(8191), 0.05);
}

TEST(Fir, RefusesWhatCannotBeMade) {
  const Array flat = Array::Zero(480);
  EXPECT_THROW(inverse_fir(grid_hz, flat, with(FirPhase::linear, 1000)), InputError);
  EXPECT_THROW(inverse_fir(grid_hz, flat, with(FirPhase::minimum, 0)), InputError);
  EXPECT_THROW(inverse_fir(grid_hz, flat, with(FirPhase::minimum, 70000)), InputError);
  EXPECT_THROW(inverse_fir(grid_hz, flat, {1001, 100, FirPhase::minimum}), InputError);
}

}  // namespace
}  // namespace ohmtilt
