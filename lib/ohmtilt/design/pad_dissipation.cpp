#include <ohmtilt/design/pad_site.h>

namespace ohmtilt {
namespace {

/// Voltages across both ends of the pad and currents through them, in the sense of the two-port.
struct PadEnds {
  ComplexArray near_volt, near_ampere, far_volt, far_ampere;
};

double series_watt(const ComplexArray& ampere, double ohm) {
  return ampere.abs2().maxCoeff() * ohm;
}
double shunt_watt(const ComplexArray& volt, double ohm) { return volt.abs2().maxCoeff() / ohm; }

/// arms: how many equal resistors carry each series value (2 in both legs of an H).
std::vector<double> tee_watt(const Pad& pad, const PadEnds& ends, double arms) {
  const ComplexArray middle = ends.near_volt - arms * pad.ohm[0] * ends.near_ampere;
  return {series_watt(ends.near_ampere, pad.ohm[0]), shunt_watt(middle, pad.ohm[1]),
          series_watt(ends.far_ampere, pad.ohm[2])};
}

std::vector<double> pi_watt(const Pad& pad, const PadEnds& ends) {
  const ComplexArray through = ends.near_ampere - ends.near_volt / pad.ohm[0];
  return {shunt_watt(ends.near_volt, pad.ohm[0]), series_watt(through, pad.ohm[1]),
          shunt_watt(ends.far_volt, pad.ohm[2])};
}

std::vector<double> bridged_watt(const Pad& pad, const PadEnds& ends) {
  const ComplexArray across = ends.near_volt - ends.far_volt;
  const ComplexArray through = across / pad.ohm[3];
  const ComplexArray near = ends.near_ampere - through;
  const ComplexArray middle = ends.near_volt - pad.ohm[0] * near;
  return {series_watt(near, pad.ohm[0]), series_watt(ends.far_ampere - through, pad.ohm[1]),
          shunt_watt(middle, pad.ohm[2]), shunt_watt(across, pad.ohm[3])};
}

std::vector<double> watt(const Pad& pad, const PadEnds& ends) {
  switch (pad.topology) {
    case PadTopology::series:
      return {series_watt(ends.near_ampere, pad.ohm[0])};
    case PadTopology::L:
      return {series_watt(ends.near_ampere, pad.ohm[0]), shunt_watt(ends.far_volt, pad.ohm[1])};
    case PadTopology::T:
      return tee_watt(pad, ends, 1);
    case PadTopology::H:
      return tee_watt(pad, ends, 2);
    case PadTopology::pi:
    case PadTopology::O:
      return pi_watt(pad, ends);
    case PadTopology::bridged_T:
      return bridged_watt(pad, ends);
  }
  return {};
}

}  // namespace

std::vector<double> PadSite::dissipation_watt(const Pad& pad) const {
  const ResistiveTwoPort matrix = two_port(pad);
  ComplexArray open_volt = ComplexArray::Constant(grid_hz_.size(), options_.open_volt);
  if (open_ratio_.size() > 0) open_volt *= open_ratio_;
  PadEnds ends;
  ends.far_ampere = open_volt / ((load_ohm_ + source_ohm_) * insertion(matrix));
  ends.far_volt = load_ohm_ * ends.far_ampere;
  ends.near_volt = matrix.a * ends.far_volt + matrix.b_ohm * ends.far_ampere;
  ends.near_ampere = matrix.c_siemens * ends.far_volt + matrix.d * ends.far_ampere;
  return watt(pad, ends);
}

}  // namespace ohmtilt
