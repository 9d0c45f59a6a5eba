#pragma once
#include <array>
#include <span>

#include <ohmtilt/base/array.h>
#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// Chain parameters of a network of resistors: v1 = a v2 + b i2, i1 = c v2 + d i2, i2 out of the
/// far end; a d - b c = 1.
struct ResistiveTwoPort {
  double a = 1, b_ohm = 0, c_siemens = 0, d = 1;
};

inline ResistiveTwoPort ell_two_port(double series_ohm, double shunt_ohm) {
  const double g = 1 / shunt_ohm;
  return {1 + series_ohm * g, series_ohm, g, 1};
}
inline ResistiveTwoPort tee_two_port(double series_ohm, double shunt_ohm,
                                     double second_series_ohm) {
  const double g = 1 / shunt_ohm;
  return {1 + series_ohm * g, series_ohm + second_series_ohm + series_ohm * second_series_ohm * g,
          g, 1 + second_series_ohm * g};
}
inline ResistiveTwoPort pi_two_port(double shunt_ohm, double series_ohm, double second_shunt_ohm) {
  const double near = 1 / shunt_ohm;
  const double far = 1 / second_shunt_ohm;
  return {1 + series_ohm * far, series_ohm, near + far + series_ohm * near * far,
          1 + series_ohm * near};
}
/// A tee whose two ends are joined by a bridge of more than 0 ohm: the admittances of both add,
/// written without the division by b_ohm that would fail for a tee without series arms.
inline ResistiveTwoPort bridged_tee_two_port(double series_ohm, double second_series_ohm,
                                             double shunt_ohm, double bridge_ohm) {
  const ResistiveTwoPort tee = tee_two_port(series_ohm, shunt_ohm, second_series_ohm);
  const double sum = tee.b_ohm + bridge_ohm;
  return {(tee.a * bridge_ohm + tee.b_ohm) / sum, tee.b_ohm * bridge_ohm / sum,
          (tee.c_siemens * bridge_ohm + (series_ohm + second_series_ohm) / shunt_ohm) / sum,
          (tee.d * bridge_ohm + tee.b_ohm) / sum};
}

/// The pad's chain parameters; ohm has one value a key of pad_keys(topology). H, O and U carry
/// their series values in both legs, which for a load between the legs is twice the value in one.
inline ResistiveTwoPort two_port(PadTopology topology, std::span<const double> ohm) {
  switch (topology) {
    case PadTopology::series:
      return {1, ohm[0], 0, 1};
    case PadTopology::L:
      return ell_two_port(ohm[0], ohm[1]);
    case PadTopology::T:
      return tee_two_port(ohm[0], ohm[1], ohm[2]);
    case PadTopology::pi:
      return pi_two_port(ohm[0], ohm[1], ohm[2]);
    case PadTopology::H:
      return tee_two_port(2 * ohm[0], ohm[1], 2 * ohm[2]);
    case PadTopology::O:
      return pi_two_port(ohm[0], 2 * ohm[1], ohm[2]);
    case PadTopology::bridged_T:
      return bridged_tee_two_port(ohm[0], ohm[1], ohm[2], ohm[3]);
    case PadTopology::U:
      return ell_two_port(2 * ohm[0], ohm[1]);
  }
  return {};
}
inline ResistiveTwoPort two_port(const Pad& pad) { return two_port(pad.topology, pad.ohm); }

/// Many pads of one topology, their numbers side by side for vector registers.
struct TwoPortBlock {
  static constexpr std::size_t size = 256;
  using Numbers = std::array<double, size>;
  Numbers a, b_ohm, c_siemens, d;
};
/// ohm: one block of values a key of pad_keys(topology).
void two_ports(PadTopology topology, std::span<const TwoPortBlock::Numbers> ohm,
               TwoPortBlock& result);

/// How many resistors stand for each value: two for the series values of H, O and U.
std::span<const int> resistors_per_value(PadTopology topology);
/// All of them: the part count.
int resistor_count(PadTopology topology);

/// Output impedance in ohm behind a source of source_ohm, and input impedance with load_ohm at the
/// far end. T is double or Complex.
template <class T>
T output_ohm(const ResistiveTwoPort& pad, T source_ohm) {
  return (pad.b_ohm + pad.d * source_ohm) / (pad.a + pad.c_siemens * source_ohm);
}
template <class T>
T input_ohm(const ResistiveTwoPort& pad, T load_ohm) {
  return (pad.a * load_ohm + pad.b_ohm) / (pad.c_siemens * load_ohm + pad.d);
}

}  // namespace ohmtilt
