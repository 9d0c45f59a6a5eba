#pragma once
// One-ports whose impedance is a rational function of s, kept as partial fractions: what a fit
// gives, and what damping is worked out on.
#include <ohmtilt/base/array.h>

#include <vector>

namespace ohmtilt {

/// residue / (s - pole), both real; pole in rad/s, residue in ohm rad/s.
struct RealPole {
  double pole = 0;
  double residue = 0;
};

/// residue / (s - pole) and its complex conjugate; Im pole > 0.
struct PolePair {
  Complex pole;
  Complex residue;
};

/// Z(s) = constant + proportional s + the sum of the terms, with simple poles. All real on the real
/// axis. The same type holds admittances and voltage ratios, with the units that follow.
struct RationalModel {
  std::vector<RealPole> real;
  std::vector<PolePair> pairs;
  double constant = 0;      ///< ohm
  double proportional = 0;  ///< henry
  /// Number of finite poles.
  Eigen::Index order() const { return static_cast<Eigen::Index>(real.size() + 2 * pairs.size()); }
};

/// A natural mode: hz = |s| / 2 pi, q = |s| / (-2 Re s), so 0.5 for a real one and infinity for an
/// undamped one.
struct Mode {
  Complex s;  ///< rad/s
  double hz = 0;
  double q = 0;
};
Mode mode(Complex s);

/// Z at one complex frequency s in rad/s; not finite at a pole.
Complex evaluate(const RationalModel& model, Complex s);
/// Z on the imaginary axis, in ohm, one value a frequency in hertz.
ComplexArray evaluate(const RationalModel& model, const Array& hz);
/// dZ/ds at s in rad/s.
Complex derivative(const RationalModel& model, Complex s);

/// All finite poles in rad/s, by rising |s|; of a pair the one with Im > 0 first.
std::vector<Complex> poles(const RationalModel& model);

/// All finite zeros of Z(s) + series_ohm in rad/s, ordered as poles(): the natural modes of the
/// one-port behind a source of that resistance. Eigenvalues of A - b c/d of a state-space form
/// (of the form with one state more for a proportional term, one less for constant + series_ohm =
/// 0), polished by Newton steps on the partial fractions. Throws InputError when Z + series_ohm is
/// zero at every s, or falls faster than 1/s at high frequency.
std::vector<Complex> zeros(const RationalModel& model, double series_ohm = 0);

/// a + b. Poles that are equal within 1e-12 relative become one term.
RationalModel sum(const RationalModel& a, const RationalModel& b);

/// a/b as partial fractions over zeros_of_b, as zeros() gives them, which must be simple, and the
/// poles of a that b lacks (equal ones cancel). Throws InputError where that rises as s^2.
RationalModel quotient(const RationalModel& a, const RationalModel& b,
                       const std::vector<Complex>& zeros_of_b);

/// 1/Z as partial fractions over its zeros; they must be simple.
RationalModel reciprocal(const RationalModel& model);

/// factor times Z.
RationalModel scaled(RationalModel model, double factor);

}  // namespace ohmtilt
