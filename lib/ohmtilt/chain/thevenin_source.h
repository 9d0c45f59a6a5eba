#pragma once
#include <functional>
#include <string>
#include <vector>

#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// A Thevenin source, sampled: complex values, one a frequency.
struct TheveninSamples {
  ComplexArray output_ohm;
  ComplexArray open_ratio;  ///< open-circuit voltage over the amplifier's own; empty: 1 everywhere
};

/// What an earphone sees at its terminals, wherever it comes from: a number, a curve, a chain.
struct TheveninSource {
  std::string label;  ///< "6 ohm", or the title of its file
  OnePort output;     ///< output impedance at the earphone's terminals
  /// Open-circuit voltage there over the amplifier's own, complex; empty where there are no stages.
  std::function<ComplexArray(const Array& hz)> open_ratio;
  std::vector<std::string> warnings;

  TheveninSamples at(const Array& hz) const;
};

/// A resistive source of ohm >= 0, labelled "6 ohm".
TheveninSource resistive_source(double ohm);

/// From what a user writes: a number of ohms, an IEC 60062 code ("6R0", "R30"), or a curve file of
/// a measured complex output impedance. Throws InputError that says what would be understood.
TheveninSource read_source(const std::string& text);

}  // namespace ohmtilt
