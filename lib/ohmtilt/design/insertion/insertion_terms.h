#pragma once
#include <array>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/design/insertion/resistive_two_port.h>

namespace ohmtilt {

/// The insertion ratio a A + b B + c C + d D of any pad between one source and one load, at each of
/// some frequencies.
class InsertionTerms {
 public:
  InsertionTerms() = default;
  InsertionTerms(const ComplexArray& source_ohm, const ComplexArray& load_ohm);

  std::size_t size() const { return terms_[0].size(); }
  /// |ratio|^2, one a frequency.
  Array powers(const ResistiveTwoPort& pad) const;
  /// exp of the mean of ln |ratio|^2 over equal steps of ln f, whose ends count half; of one
  /// frequency the power itself.
  double mean_power(const ResistiveTwoPort& pad) const;
  /// The same of a whole block of pads.
  void mean_powers(const TwoPortBlock& pads, double* powers) const;

 private:
  void fill_powers(const ResistiveTwoPort& pad, double* powers) const;

  std::array<std::vector<double>, 8> terms_;  // A, B, C, D: real parts, then imaginary ones
};

}  // namespace ohmtilt
