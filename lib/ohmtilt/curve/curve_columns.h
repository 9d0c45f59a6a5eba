#pragma once
#include <array>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/curve/column_names.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/number_table.h>

namespace ohmtilt {

/// A column of a table and what it means.
struct CurveRole {
  std::size_t column = 0;
  ColumnMeaning meaning;
};

/// Which column of a table plays which part.
struct CurveRoles {
  std::array<std::optional<CurveRole>, curve_column_count> by_column;
  std::vector<std::string> warnings;
  const std::optional<CurveRole>& of(CurveColumn column) const {
    return by_column[static_cast<std::size_t>(column)];
  }
  std::optional<CurveRole>& of(CurveColumn column) {
    return by_column[static_cast<std::size_t>(column)];
  }
  bool has(CurveColumn column) const { return of(column).has_value(); }
};

/// A table whose header, or a comment above it, names columns of a curve.
NumberTable curve_table(std::string text, const std::string& name);

/// The parts of the columns by the header; without one by their number: frequency in Hz, then
/// second (magnitude in ohm or level in dB), then phase in degrees. No column is left a resistance.
/// Of two columns for one part the one in the project's own wording is used. Throws InputError when
/// there are other than 2 or 3 columns and no header, two columns for one part, or a resistance
/// that may be a magnitude or a real part.
CurveRoles find_roles(const NumberTable& table, CurveColumn second);

/// What was used, for CurveLayout; warns in words of all that was not the project's own wording.
CurveLayout layout_of(const NumberTable& table, const CurveRoles& roles,
                      std::vector<std::string>& warnings);

/// Values of a column in its base unit. Throws InputError naming the cell that is not finite.
Array values_of(const NumberTable& table, const CurveRole& role);

/// Throws InputError naming the first row whose value is beyond anything physical; name: that of the
/// project's own column, such as magnitude_ohm, which tells the range (text/number_range.h).
void require_physical(const NumberTable& table, const CurveRole& role, const Array& values,
                      const std::string& name);

/// Throws InputError naming the first cell of the column that is not positive.
void require_positive(const NumberTable& table, const CurveRole& role, const Array& values,
                      const std::string& remedy);

/// Whether the rows stand in strictly falling order; throws InputError naming the first row that
/// is out of order or repeats a frequency when they neither rise nor fall throughout.
bool falling_order(const NumberTable& table, const CurveRole& frequency, const Array& hz);

}  // namespace ohmtilt
