#pragma once
#include <numbers>

// Earphones and sites for pads.
#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/hearing/weighting.h>

#include "tests/support.h"

namespace ohmtilt::test {

inline const Array grid_hz = log_grid({20, 20000}, 480);

/// An earphone that is any impedance, without a file behind it.
inline Earphone earphone_of(OnePort impedance) {
  return {"test", std::move(impedance), PhaseOrigin::computed, {}, {}, {}, {}, {}, {}, {}, {}, {},
          {}};
}
inline Earphone resistive_earphone(double ohm) { return earphone_of(OnePort::resistance(ohm)); }

/// A coil in series with a resonance: 12 ohm, 0.2 mH, a peak of 30 ohm at 2.5 kHz with a Q of 3.
inline Earphone resonant_earphone() {
  return earphone_of(OnePort({1, 1e6}, [](const Array& hz) -> ComplexArray {
    ComplexArray z(hz.size());
    for (Eigen::Index i = 0; i < hz.size(); ++i)
      z[i] = 12.0 + j * (2e-4 * 2 * std::numbers::pi * hz[i]) +
             30.0 / (1.0 + 3.0 * j * (hz[i] / 2500 - 2500 / hz[i]));
    return z;
  }));
}

inline PadSite site_of(const Earphone& earphone, double source_ohm,
                       const PadSiteOptions& options = {}) {
  return {earphone, resistive_source(source_ohm), options};
}

}  // namespace ohmtilt::test
