#pragma once
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/value_changes.h>

namespace ohmtilt {

/// Whose value a change is of.
enum class ChangeOf { earphone, from, to };
/// "earphone", "from" or "to".
const char* to_string(ChangeOf of);

/// What one changed value does to a deviation.
struct DeviationChange {
  ChangeOf of = ChangeOf::earphone;
  ChangedValue changed;
  Array deviation_db;  ///< change of the deviation on the grid, the anchor kept
  double span_db = 0;  ///< change of its span
  double peak_db = 0;  ///< of deviation_db, the largest in magnitude, with its sign
  double peak_hz = 0;
};

/// Every value of the sources' chains and of the earphone's circuit made percent larger by itself,
/// those that change the span most first. What is no circuit (a number of ohms, a curve) changes
/// as a whole, as the quantity "impedance". Differences, no derivatives (for_each_change). Throws
/// InputError as NodalSystem does.
std::vector<DeviationChange> deviation_changes(const DeviationGrid& grid, const Earphone& earphone,
                                               const TheveninSource& from, const TheveninSource& to,
                                               double percent = 1);

}  // namespace ohmtilt
