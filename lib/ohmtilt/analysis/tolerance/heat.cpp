#include <ohmtilt/analysis/tolerance/heat.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>

namespace ohmtilt {
namespace {

constexpr double coldest_celsius = -60, hottest_celsius = 200;

PartHeat surroundings(const ToleranceOptions& options) {
  if (!(options.low_celsius >= coldest_celsius && options.low_celsius <= options.high_celsius &&
        options.high_celsius <= hottest_celsius))
    throw InputError("temperatures from " + number_text(options.low_celsius) + " to " +
                         number_text(options.high_celsius) + " deg C are not allowed",
                     "give two from -60 to 200, the lower first");
  if (options.heating_volt && !(*options.heating_volt >= 0 && *options.heating_volt <= 1000))
    throw InputError("a voltage of " + number_text(*options.heating_volt) + " V is not allowed",
                     "give 0 to 1000 V");
  return {options.low_celsius, options.high_celsius, {}};
}

bool warms_itself(const Circuit& circuit) {
  return std::any_of(circuit.parts().begin(), circuit.parts().end(), [](const Part& part) {
    return part.tolerance_detail && part.tolerance_detail->kelvin_per_watt > 0;
  });
}

/// branches are for 1 V; squares of the true volt, one a frequency.
void add_watt(const Circuit& circuit, const std::vector<Branch>& branches, const Array& square_volt,
              PartHeat& heat) {
  for (const auto& part : circuit.parts()) {
    if (!part.tolerance_detail || !(part.tolerance_detail->kelvin_per_watt > 0)) continue;
    Array watt = Array::Zero(square_volt.size());
    for (const auto& branch : branches)
      if (branch.part == part.name || branch.part.starts_with(part.name + "."))
        watt += branch.power_watt().real() * square_volt;
    heat.watt[part.name] = std::max(watt.maxCoeff(), 0.0);
  }
}

/// The load of a comparison as an impedance that is known at its own
/// frequencies.
OnePort load_of(const TolerancedComparison& comparison, const Array& hz) {
  const ComplexArray ohm = comparison.circuit ? driving_point(*comparison.circuit, hz)
                                              : comparison.load_ohm.head(hz.size());
  return OnePort({1e-9, 1e12},
                 [ohm](const Array& at) -> ComplexArray { return ohm.head(at.size()); });
}

}  // namespace

PartHeat circuit_heat(const Circuit& circuit, const Array& hz,
                      const std::optional<std::string>& drive, const ToleranceOptions& options) {
  PartHeat heat = surroundings(options);
  if (!options.heating_volt || !warms_itself(circuit)) return heat;
  if (!drive)
    throw InputError("a circuit that its own sources drive is heated by no other voltage",
                     "name a port that is driven");
  const double volt = *options.heating_volt;
  add_watt(circuit, driven_branches(circuit, hz, *drive), Array::Constant(hz.size(), volt * volt),
           heat);
  return heat;
}

PartHeat chain_heat(const TolerancedComparison& comparison, const TheveninSource& source,
                    const ToleranceOptions& options) {
  PartHeat heat = surroundings(options);
  if (!options.heating_volt || !source.chain) return heat;
  const Array& hz = comparison.grid.grid_hz;
  ChainCircuitOptions how;
  how.earphone = load_of(comparison, hz);
  const Circuit circuit(chain_circuit(*source.chain, how));
  if (!warms_itself(circuit)) return heat;
  const double volt = *options.heating_volt;
  add_watt(circuit, own_branches(circuit, hz), Array::Constant(hz.size(), volt * volt), heat);
  return heat;
}

PartHeat earphone_heat(const TolerancedComparison& comparison, const ToleranceOptions& options) {
  PartHeat heat = surroundings(options);
  if (!options.heating_volt || !comparison.circuit || !warms_itself(*comparison.circuit))
    return heat;
  const Array& hz = comparison.grid.grid_hz;
  const ComplexArray load = driving_point(*comparison.circuit, hz);
  const TheveninSamples source = comparison.to.at(hz);
  Array square =
      (load / (load + source.output_ohm)).abs2() * *options.heating_volt * *options.heating_volt;
  if (source.open_ratio.size() > 0) square *= source.open_ratio.abs2();
  add_watt(*comparison.circuit, driven_branches(*comparison.circuit, hz), square, heat);
  return heat;
}

}  // namespace ohmtilt
