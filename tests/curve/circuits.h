#pragma once
// Invented earphones as closed-form impedances, for tests that need the true phase.
#include <ohmtilt/base/array.h>

#include <cmath>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

namespace ohmtilt::test {

/// Impedance in ohm at an angular frequency in rad/s.
using Impedance = std::function<Complex(double)>;

struct Peak {
  double ohm, q, hz;
};
/// dc + jwL + k (jw)^n + sum of peak/(1 + jQ(f/f0 - f0/f)); k (jw)^n is the lossy coil of
/// W. M. Leach, J. Audio Eng. Soc. 50(6), 2002, 442-450, with n = 0.5 the semi-inductance.
struct Driver {
  double dc_ohm, coil_henry, k, n;
  std::vector<Peak> peaks;
  Complex operator()(double w) const {
    const Complex jw(0, w);
    Complex z = dc_ohm + jw * coil_henry + k * std::pow(jw, n);
    for (const Peak& peak : peaks) {
      const double x = w / (2 * std::numbers::pi * peak.hz);
      z += peak.ohm / Complex(1, peak.q * (x - 1 / x));
    }
    return z;
  }
};

inline Impedance series(Impedance driver, double ohm, double farad = 0) {
  return [=](double w) {
    return driver(w) + ohm + (farad > 0 ? 1.0 / Complex(0, w * farad) : Complex(0));
  };
}

inline Impedance parallel(std::vector<Impedance> branches) {
  return [=](double w) {
    Complex siemens = 0;
    for (const Impedance& branch : branches) siemens += 1.0 / branch(w);
    return 1.0 / siemens;
  };
}

struct Circuit {
  std::string name;
  Impedance ohm;
};

inline std::vector<Circuit> invented_earphones() {
  const Driver bass{22, 0.4e-3, 0.09, 0.5, {{30, 2, 1400}, {7, 4, 3900}}};
  const Driver middle{30, 0.3e-3, 0.07, 0.5, {{25, 2.5, 2300}, {8, 4, 6100}}};
  const Driver treble{18, 0.08e-3, 0.025, 0.5, {{14, 3, 3600}, {6, 4, 9500}}};
  const Driver moving{16, 5e-6, 2.5e-3, 0.7, {{9, 1.6, 48}, {0.6, 3, 4200}}};
  // A set made up for tests, not a real receiver.
  const Driver armature{20, 0.3e-3, 0.05, 0.5, {{15, 4, 2500}, {6, 5, 5600}}};
  return {{"single dynamic", moving},
          {"single armature", armature},
          {"two-way armature", parallel({series(bass, 8), series(treble, 4, 3.3e-6)})},
          {"five-way with a deep dip",
           parallel({series(bass, 6), series(bass, 6), series(middle, 3, 10e-6),
                     series(treble, 0.6, 1e-6), series(treble, 0.6, 1e-6)})},
          {"hybrid", parallel({moving, series(treble, 10, 2.2e-6)})},
          {"planar", Driver{14, 12e-6, 0, 1, {}}}};
}

}  // namespace ohmtilt::test
