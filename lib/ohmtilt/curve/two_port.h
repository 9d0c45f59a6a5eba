#pragma once
#include <array>
#include <functional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt {

/// Scattering parameters of a two-port, one value per frequency; s21 is from port 1 to port 2. Of
/// power waves [Kurokawa1965] for real references R1 and R2: a_k = (v_k + R_k i_k)/(2 sqrt R_k),
/// b_k = (v_k - R_k i_k)/(2 sqrt R_k), currents into the ports, b = S a.
struct Scattering {
  ComplexArray s11, s12, s21, s22;
};

/// A two-port that can be asked at any frequency of its range: measured, or computed. Every linear
/// one has scattering parameters, one without Z or Y too. An immutable value, cheap to copy.
class TwoPort {
 public:
  using Evaluate = std::function<Scattering(const Array& hz)>;
  /// reference_ohm of port 1 and port 2, positive.
  TwoPort(Band range, std::array<double, 2> reference_ohm, Evaluate evaluate);

  /// Where it is known. Outside nothing is made up.
  const Band& range() const { return range_; }
  const std::array<double, 2>& reference_ohm() const { return reference_ohm_; }
  /// Throws InputError for a frequency outside range().
  Scattering at(const Array& hz) const;
  /// The same with port 2 as port 1.
  TwoPort reversed() const;

 private:
  Band range_;
  std::array<double, 2> reference_ohm_;
  Evaluate evaluate_;
};

/// What a file has of a two-port.
struct TwoPortData {
  CurveNotes notes;
  Array frequency_hz;  ///< positive, strictly rising, two or more
  Scattering s;        ///< one value per frequency, finite
  std::array<double, 2> reference_ohm{50, 50};
};

/// Real and imaginary parts interpolated over ln f (LogInterpolator); the datum itself where a
/// frequency is one. Throws InputError as LogInterpolator does, or for a reference that is not
/// positive.
TwoPort two_port(const TwoPortData& data);

/// Largest singular value of S per frequency: the wave that comes back for a wave of 1 at worst. A
/// passive two-port has at most 1.
Array largest_wave(const Scattering& s);
/// |s21 - s12| over the larger of the two per frequency, 0 where both are: 0 for a network of
/// resistors, coils, capacitors and transformers in any number (reciprocity).
Array one_way_share(const Scattering& s);

/// Where the two-port gives out more power than it takes in, or is not the same both ways, in
/// sentences for people; beyond 0.1 % and 1 % of a wave, which measurements miss (common practice,
/// no source).
std::vector<std::string> two_port_warnings(const TwoPortData& data);

}  // namespace ohmtilt
