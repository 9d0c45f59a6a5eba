#pragma once
// Invented earphones by chance, in closed form: what a measurement is held against.
#include <ohmtilt/base/array.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <random>
#include <vector>

namespace ohmtilt::test {

/// One driver behind its part of the crossover: resistance, a coil of order n, series inductance
/// and capacitance, and resonances (R, f0, Q each) in series.
class RandomEarphone {
 public:
  explicit RandomEarphone(unsigned seed) : generator_(seed) {
    const int kind = static_cast<int>(seed % 6);  // 0, 1: dynamic; 2: planar; 3 to 5: armatures
    const int drivers = kind < 3 ? 1 : kind;
    for (int d = 0; d < drivers; ++d) branches_.push_back(kind < 3 ? lone(kind) : armature(d));
    if (kind == 1) branches_.push_back(piezo());
  }

  Complex impedance(double hz) const {
    Complex siemens = 0;
    for (const Branch& branch : branches_) siemens += 1.0 / branch.impedance(hz);
    return 1.0 / siemens;
  }
  ComplexArray impedance(const Array& hz) const {
    ComplexArray z(hz.size());
    for (Eigen::Index i = 0; i < hz.size(); ++i) z[i] = impedance(hz[i]);
    return z;
  }

 private:
  struct Resonance {
    double ohm, hz, q;
  };
  struct Branch {
    double ohm = 0, coil = 0, order = 0.6, henry = 0, farad = 0;
    std::vector<Resonance> resonances;

    Complex impedance(double hz) const {
      const Complex s(0, 2 * std::numbers::pi * hz);
      Complex z = ohm + coil * std::pow(s, order) + s * henry;
      if (farad > 0) z += 1.0 / (s * farad);
      for (const auto& [r, f, q] : resonances) z += r / Complex(1, q * (hz / f - f / hz));
      return z;
    }
  };

  double even(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(generator_);
  }
  double by_ratio(double low, double high) { return low * std::exp(even(0, std::log(high / low))); }
  /// The coil whose reactance at 10 kHz is this.
  static double coil_of(double ohm, double order) {
    return ohm / std::pow(2 * std::numbers::pi * 10e3, order);
  }

  Branch lone(int kind) {
    Branch b;
    b.ohm = by_ratio(8, 60);
    if (kind == 2) {
      b.henry = by_ratio(1e-6, 1e-5);
      return b;
    }
    b.order = even(0.5, 0.9);
    b.coil = coil_of(b.ohm * by_ratio(0.03, 0.6), b.order);
    b.resonances.push_back({b.ohm * by_ratio(0.05, 2.5), by_ratio(40, 1500), by_ratio(0.8, 4)});
    if (even(0, 1) < 0.5)
      b.resonances.push_back({b.ohm * by_ratio(0.01, 0.1), by_ratio(2000, 9000), by_ratio(2, 12)});
    return b;
  }

  Branch piezo() {
    Branch b;
    b.ohm = by_ratio(10, 200);
    b.farad = by_ratio(3e-8, 1e-6);
    return b;
  }

  Branch armature(int place) {
    Branch b;
    b.ohm = by_ratio(6, 120);
    b.order = even(0.45, 0.65);
    b.coil = coil_of(b.ohm * by_ratio(0.3, 3), b.order);
    b.resonances.push_back({b.ohm * by_ratio(0.1, 1.5), by_ratio(500, 4000), by_ratio(1.5, 8)});
    b.resonances.push_back({b.ohm * by_ratio(0.05, 0.7), by_ratio(3000, 15000), by_ratio(2, 10)});
    if (place > 0) b.farad = by_ratio(3e-7, 2e-5);
    if (place == 0 && even(0, 1) < 0.5) b.henry = by_ratio(1e-5, 1e-3);
    return b;
  }

  std::mt19937_64 generator_;
  std::vector<Branch> branches_;
};

}  // namespace ohmtilt::test
