#pragma once
#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/circuit/varied_values.h>

namespace ohmtilt {

/// The temperatures that options ask for, of the parts of a circuit whose driven port (or own
/// sources, where there is none) has options.heating_volt. Throws InputError for temperatures out
/// of bounds.
PartHeat circuit_heat(const Circuit& circuit, const Array& hz,
                      const std::optional<std::string>& drive, const ToleranceOptions& options);
/// Of the parts of a source's chain with the earphone at its end; of the earphone's parts behind
/// comparison.to.
PartHeat chain_heat(const TolerancedComparison& comparison, const TheveninSource& source,
                    const ToleranceOptions& options);
PartHeat earphone_heat(const TolerancedComparison& comparison, const ToleranceOptions& options);

}  // namespace ohmtilt
