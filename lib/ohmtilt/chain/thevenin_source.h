#pragma once
#include <functional>
#include <memory>
#include <string>
#include <vector>

#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

class Chain;

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
  std::shared_ptr<const Chain>
      chain;                     ///< what it was reduced from; nothing for a number or a curve
  std::string file = {};         ///< what it was read from; empty for a number
  std::string short_label = {};  ///< for narrow places; empty: label
  const std::string& short_name() const { return short_label.empty() ? label : short_label; }

  TheveninSamples at(const Array& hz) const;
};

/// A resistive source of ohm >= 0, labelled "6 ohm".
TheveninSource resistive_source(double ohm);

/// The chain as one source at the earphone's terminals, worked out by the nodal solver whenever it
/// is asked. Throws InputError where its circuit cannot be solved; open_ratio does where nothing
/// comes through.
TheveninSource thevenin_source(const Chain& chain);

/// From what a user writes: a number of ohms, an IEC 60062 code ("6R0", "R30"), a curve file of a
/// measured output impedance, or a chain file (its name ends in .toml). Throws InputError that says
/// what would be understood.
TheveninSource read_source(const std::string& text);

/// Gives sources of one label different ones (text/labels.h), and takes short labels away that
/// others have too.
void tell_apart(std::vector<TheveninSource>& sources);

/// 20 lg |voltage at the terminals with load_ohm there / open-circuit voltage of the amplifier|,
/// one a frequency: loss_db of the results, negative for a loss. load_ohm has one value a
/// frequency.
Array terminal_gain_db(const TheveninSamples& source, const ComplexArray& load_ohm);

/// Impedance in ohm that the amplifier sees (behind its own output impedance) with the earphone at
/// the end of the chain's stages.
ComplexArray input_ohm(const Chain& chain, const OnePort& earphone, const Array& hz);

}  // namespace ohmtilt
