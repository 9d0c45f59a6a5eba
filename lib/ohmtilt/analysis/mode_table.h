#pragma once
// The modes of an earphone from 0 ohm through all sources to infinity, in one order.
#include <ohmtilt/analysis/damping.h>

namespace ohmtilt {

/// All zeros of Z + Zs: column j of every row is the same mode.
struct ModeTable {
  Array source_ohm;                      ///< resistances that were walked through
  Eigen::ArrayXXcd tracks;               ///< one row a resistance
  std::vector<std::vector<Complex>> at;  ///< one a condition, as many as there are columns
};

/// Walks resistances from near zero to near infinity (with between, a rising list, among them), and
/// for a reactive source from none of it to all of it.
ModeTable mode_table(const RationalModel& impedance, const std::vector<DampingSource>& sources,
                     const Array& between);

/// Two columns that are a conjugate pair at some condition.
struct ModePair {
  Eigen::Index first = 0, second = 0;
};
/// Those that are complex and within band at one condition at least, by frequency.
std::vector<ModePair> mode_pairs(const ModeTable& table, const Band& band);

/// The pair as one mode where it exists: both real, or conjugates.
std::optional<PairMode> mode_of(Complex s1, Complex s2);

/// Row of table.source_ohm that is ohm.
Eigen::Index row_of(const ModeTable& table, double ohm);

}  // namespace ohmtilt
