#pragma once
#include <array>
#include <vector>

#include <ohmtilt/design/insertion/insertion_terms.h>

namespace ohmtilt {

// The mean loss over an anchor band behind a resistance Rs. There the insertion ratio is
// (a + c Rs) (Z + Rout) / (Z + Rs) with the pad's output resistance Rout, so its mean power is
// (a + c Rs)^2 E(Rout), and all the frequencies are in a function of one number.

/// E by means of the terms.
double output_mean(const InsertionTerms& terms, double source_ohm, double output_ohm);

/// Bounds of that mean power in the time of a logarithm: E rises with Rout as long as no load has
/// a negative real part, so two of its values enclose those between.
class OutputMeanBounds {
 public:
  /// load_ohm: at the frequencies of terms, real parts of 0 or more.
  OutputMeanBounds(const InsertionTerms& terms, const ComplexArray& load_ohm, double source_ohm);
  struct Bounds {
    double low, high;
  };
  Bounds mean_power(const ResistiveTwoPort& pad) const;

 private:
  double source_ohm_;
  double first_ohm_;           // knots: 0, first_ohm_, and on in equal steps of the logarithm
  std::vector<double> knots_;  // E there; the last one is infinite
};

/// E from low_ohm to high_ohm > low_ohm > 0 as a Chebyshev series in Rout: to 1e-6 of itself up to
/// high_ohm / low_ohm = widest.
class OutputMeanSeries {
 public:
  static constexpr double widest = 3;
  static constexpr std::size_t length = 8;
  OutputMeanSeries(const InsertionTerms& terms, double source_ohm, double low_ohm, double high_ohm);
  /// Mean powers of the pads, whose output resistances lie in the range.
  void mean_powers(const TwoPortBlock& pads, double* powers) const;

 private:
  double source_ohm_, middle_ohm_, half_width_ohm_;
  std::array<double, length> coefficient_;
};

}  // namespace ohmtilt
