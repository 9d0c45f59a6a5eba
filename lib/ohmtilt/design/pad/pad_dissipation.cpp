#include <ohmtilt/design/insertion/insertion_point.h>

namespace ohmtilt {
namespace {

// Everything in a pad of resistors is p Z + q times the current into the load Z, with real p and q:
// voltages in ohm, currents as they are.

RealAffine operator-(const RealAffine& a, const RealAffine& b) { return {a.p - b.p, a.q - b.q}; }
RealAffine operator*(double factor, const RealAffine& a) { return {factor * a.p, factor * a.q}; }

/// What a resistor's heat is the square of, times factor: its current and ohm, or its voltage and
/// 1 / ohm.
struct Heat {
  RealAffine quantity;
  double factor;
};

Heat series(const RealAffine& ampere, double ohm) { return {ampere, ohm}; }
Heat shunt(const RealAffine& volt, double ohm) { return {volt, 1 / ohm}; }

/// Voltages across both ends of the pad and currents through them, in the sense of the two-port.
struct PadEnds {
  RealAffine near_volt, near_ampere;
  RealAffine far_volt{1, 0}, far_ampere{0, 1};
};

/// arms: how many equal resistors carry each series value (2 in both legs of an H).
std::vector<Heat> tee_heat(const Pad& pad, const PadEnds& ends, double arms) {
  const RealAffine middle = ends.near_volt - arms * pad.ohm[0] * ends.near_ampere;
  return {series(ends.near_ampere, pad.ohm[0]), shunt(middle, pad.ohm[1]),
          series(ends.far_ampere, pad.ohm[2])};
}

std::vector<Heat> pi_heat(const Pad& pad, const PadEnds& ends) {
  const RealAffine through = ends.near_ampere - 1 / pad.ohm[0] * ends.near_volt;
  return {shunt(ends.near_volt, pad.ohm[0]), series(through, pad.ohm[1]),
          shunt(ends.far_volt, pad.ohm[2])};
}

std::vector<Heat> bridged_heat(const Pad& pad, const PadEnds& ends) {
  const RealAffine across = ends.near_volt - ends.far_volt;
  const RealAffine through = 1 / pad.ohm[3] * across;
  const RealAffine near = ends.near_ampere - through;
  return {series(near, pad.ohm[0]), series(ends.far_ampere - through, pad.ohm[1]),
          shunt(ends.near_volt - pad.ohm[0] * near, pad.ohm[2]), shunt(across, pad.ohm[3])};
}

std::vector<Heat> heat(const Pad& pad, const PadEnds& ends) {
  switch (pad.topology) {
    case PadTopology::series:
      return {series(ends.near_ampere, pad.ohm[0])};
    case PadTopology::L:
    case PadTopology::U:
      return {series(ends.near_ampere, pad.ohm[0]), shunt(ends.far_volt, pad.ohm[1])};
    case PadTopology::T:
      return tee_heat(pad, ends, 1);
    case PadTopology::H:
      return tee_heat(pad, ends, 2);
    case PadTopology::pi:
    case PadTopology::O:
      return pi_heat(pad, ends);
    case PadTopology::bridged_T:
      return bridged_heat(pad, ends);
  }
  return {};
}

}  // namespace

std::vector<double> PadSite::dissipation_watt(const Pad& pad) const {
  const ResistiveTwoPort matrix = two_port(pad);
  Array ampere_square =
      options_.open_volt * options_.open_volt * bare_ampere_square_ / insertion_.powers(matrix);
  if (open_ratio_.size() > 0) ampere_square *= open_ratio_.abs2();
  std::vector<double> watt;
  for (const Heat& one : heat(pad, {{matrix.a, matrix.b_ohm}, {matrix.c_siemens, matrix.d}}))
    watt.push_back(one.factor * (ampere_square * load_affine_square(one.quantity)).maxCoeff());
  return watt;
}

Array PadSite::load_affine_square(const RealAffine& affine) const {
  const Eigen::Index count = load_ohm_.size();
  const Eigen::Map<const Array> square(load_square_.data(), count);
  const Eigen::Map<const Array> twice_real(load_twice_real_.data(), count);
  return affine.p * affine.p * square + affine.p * affine.q * twice_real + affine.q * affine.q;
}

}  // namespace ohmtilt
