#pragma once
// The modes of an earphone from 0 ohm through all sources to infinity, in one order.
#include <ohmtilt/analysis/damping/damping.h>

#include <cmath>

namespace ohmtilt {

/// All zeros of Z + Zs: column j of every row is the same mode.
struct ModeTable {
  Array source_ohm;         ///< resistances that were walked through
  Eigen::ArrayXXcd tracks;  ///< one row a resistance
  /// One row of zeros for each condition (0 ohm, the sources, open), all equally long: the columns
  /// of tracks, and behind them zeros that a source brings.
  std::vector<std::vector<Complex>> at;
};

/// Walks resistances from near zero to near infinity (with between, a rising list, among them), and
/// for a reactive source from none of it to all of it.
ModeTable mode_table(const RationalModel& impedance, const std::vector<DampingSource>& sources,
                     const Array& between);

/// Two columns that are a conjugate pair at some condition.
struct ModePair {
  Eigen::Index first = 0, second = 0;
};
/// Those that are complex and within band at one condition at least, by stated frequency.
std::vector<ModePair> mode_pairs(const ModeTable& table, const Band& band);

/// The pair as one mode where it exists: both real, or conjugates.
std::optional<PairMode> mode_of(Complex s1, Complex s2);
/// The same from one row of a table.
std::optional<PairMode> mode_in(const std::vector<Complex>& values, const ModePair& pair);

/// The one frequency that a mode goes by, in hertz: at the first source, or at the first condition
/// that has it.
double stated_hz(const ModeTable& table, const ModePair& pair);

/// Q after / Q before - 1 in percent; nothing where one of them does not exist or has no damping.
std::optional<double> q_change_percent(const std::optional<PairMode>& before,
                                       const std::optional<PairMode>& after);

/// Below it a mode shows no peak.
inline const double least_peaked_q = std::sqrt(0.5);

/// Of several pairs the one whose Q changes most between two conditions.
struct ModeChange {
  std::size_t pair = 0;
  double percent = 0;
};
/// Judged by the change in percent, which is what people are told, among those that have a Q of
/// least_q at one of the two; nothing where no Q changes.
std::optional<ModeChange> largest_change(const std::vector<ModePair>& pairs,
                                         const std::vector<Complex>& before,
                                         const std::vector<Complex>& after, double least_q);

/// Row of table.source_ohm that is ohm.
Eigen::Index row_of(const ModeTable& table, double ohm);

}  // namespace ohmtilt
