#pragma once
#include <functional>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>

namespace ohmtilt {

/// An impedance that can be asked for its complex value at any frequency of its range, wherever
/// it comes from: a number, a curve, a circuit, a chain. An immutable value, cheap to copy.
class OnePort {
 public:
  /// From frequencies in hertz to complex ohms, one a frequency.
  using Evaluate = std::function<ComplexArray(const Array& hz)>;

  /// A resistance, at every frequency. ohm >= 0.
  static OnePort resistance(double ohm);
  OnePort(Band range, Evaluate evaluate);

  /// Where it is known. Outside nothing is made up.
  const Band& range() const { return range_; }
  /// Complex impedance in ohm at hz. Throws InputError for a frequency outside range().
  ComplexArray at(const Array& hz) const;
  Complex at(double hz) const;

 private:
  Band range_;
  Evaluate evaluate_;
};

}  // namespace ohmtilt
