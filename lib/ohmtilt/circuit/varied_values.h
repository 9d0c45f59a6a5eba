#pragma once
#include <map>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/tolerance_detail.h>

namespace ohmtilt {

/// One number that a draw takes between -1 and 1: of a value, of what the values of a group have in
/// common, of the ambient temperature, of how much the parts have warmed.
struct DrawAxis {
  std::optional<Distribution> distribution;  ///< nothing: the one that is asked for
  double sorted_out = 0;                     ///< binned: none within this part of -1 to 1
  /// So many neighbouring draws have it in common: 2, the two channels of a pair; 4, that pair and
  /// the next one too.
  int alike = 1;
};

/// The axes of circuits that are drawn together: groups, temperature and warming are one for all.
class DrawAxes {
 public:
  const std::vector<DrawAxis>& axes() const { return axes_; }
  std::size_t add(const DrawAxis& axis);
  /// The axis of that name, made where there is none. Throws InputError when it is of another
  /// distribution.
  std::size_t shared(const std::string& name, const DrawAxis& axis);

 private:
  std::vector<DrawAxis> axes_;
  std::map<std::string, std::size_t> named_;
};

/// How far one axis moves a value, relative to it.
struct VariedShare {
  std::size_t axis = 0;
  double part = 0;
  bool from_zero = false;  ///< from 0 at -1 to part at 1, in place of -part to part
};

/// One value that is known only within a tolerance.
struct VariedValue {
  ValueIndex index;
  double nominal = 0;
  double tolerance = 0;     ///< relative, of all shares together: 0.01 for 1 %
  bool is_squared = false;  ///< the shares are those of the value's square
  std::vector<VariedShare> shares;
  double offset = 0;  ///< relative, of all draws: the middle of the ambient temperatures
  /// The value where its shares have moved it by this much; relative, 0 for none.
  double moved(double relative) const;
  /// Relative, for deviates of all axes. deviate(axis) is from -1 to 1.
  template <class Deviate>
  double relative(const Deviate& deviate) const {
    double sum = offset;
    for (const auto& share : shares) {
      const double d = deviate(share.axis);
      sum += share.part * (share.from_zero ? (d + 1) / 2 : d);
    }
    return sum;
  }
};

/// A circuit with its values that have a tolerance.
struct VariedCircuit {
  Circuit circuit;
  std::vector<VariedValue> values;
};

inline constexpr double reference_celsius = 20;  ///< where values are as they are stated

/// What temperature the parts have.
struct PartHeat {
  double low_celsius = reference_celsius;
  double high_celsius = reference_celsius;  ///< both of the surroundings
  /// What each part takes up at most, by its name; what is not named takes up nothing.
  std::map<std::string, double> watt;
};

/// The values that tolerance_percent and what belongs to it (tolerance_detail.h) cover: ohm, henry,
/// farad, k, volt and ampere, and all figures of drivers, each for itself unless the parts are of a
/// group; not exponents and phases, and not values of 0. A value of a group is nominal (1 + (t - m)
/// common + m own) with its tolerance t and the group's matching m, so that it keeps t. A measured
/// curve varies as a whole, by an ideal transformer put before it. Adds axes. Throws InputError
/// where parts of one group differ in their distribution.
VariedCircuit varied_circuit(const Circuit& circuit, DrawAxes& axes, const PartHeat& heat = {});
VariedCircuit varied_circuit(const Circuit& circuit);

/// True when no part's impedance depends on frequency.
bool is_resistive(const Circuit& circuit);

}  // namespace ohmtilt
