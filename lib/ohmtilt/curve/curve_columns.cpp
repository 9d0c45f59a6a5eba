#include <ohmtilt/curve/curve_columns.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

std::string in_quotes(std::string_view text) { return "\"" + printable(text, 60) + "\""; }

Place header_place(const NumberTable& table) { return {table.file, table.header_line, 0}; }

void leave_out(CurveRoles& roles, const NumberTable& table, std::size_t column,
               const std::string& why) {
  roles.warnings.push_back("column " + std::to_string(column + 1) + " " +
                           in_quotes(table.names[column]) + " " + why);
}

[[noreturn]] void refuse_two(const NumberTable& table, std::size_t first, std::size_t second,
                             CurveColumn part) {
  throw InputError(header_place(table),
                   "columns " + in_quotes(table.names[first]) + " and " +
                       in_quotes(table.names[second]) + " both read as " + to_string(part),
                   "keep one of them in the file");
}

/// Gives the role of another column to column; of the two the one in own wording keeps it.
void add_role(CurveRoles& roles, const NumberTable& table, const CurveRole& added) {
  auto& role = roles.of(added.meaning.column);
  if (!role) {
    role = added;
    return;
  }
  if (role->meaning.own_name == added.meaning.own_name)
    refuse_two(table, role->column, added.column, added.meaning.column);
  const CurveRole own = role->meaning.own_name ? *role : added;
  const std::size_t other = role->meaning.own_name ? added.column : role->column;
  leave_out(roles, table, other,
            "reads as " + to_string(added.meaning.column) + " beside " +
                in_quotes(table.names[own.column]) + " and is left out");
  role = own;
}

void add_named(CurveRoles& roles, const NumberTable& table, std::size_t column) {
  if (const auto meaning = column_meaning(table.names[column]))
    add_role(roles, table, {column, *meaning});
  else
    leave_out(roles, table, column, "is not understood and left out");
}

/// A resistance is the real part beside an imaginary part, and the magnitude where it stands alone.
void settle_resistance(CurveRoles& roles, const NumberTable& table) {
  using enum CurveColumn;
  if (!roles.has(resistance)) return;
  CurveRole role = *roles.of(resistance);
  roles.of(resistance).reset();
  if (roles.has(magnitude) && !roles.has(imaginary))
    return leave_out(roles, table, role.column, "stands beside a magnitude and is left out");
  if (roles.has(phase) && !roles.has(imaginary))
    throw InputError(header_place(table),
                     "column " + in_quotes(table.names[role.column]) +
                         " beside a phase may be the real part or the magnitude",
                     "name it real_ohm and give imag_ohm, or name it magnitude_ohm");
  role.meaning.column = roles.has(imaginary) ? real : magnitude;
  add_role(roles, table, role);
}

CurveRoles roles_by_number(const NumberTable& table, CurveColumn second) {
  const std::size_t columns = table.column_count();
  if (columns != 2 && columns != 3)
    throw InputError(Place{table.file, table.rows.front().line, 0},
                     std::to_string(columns) + " columns and no header to name them",
                     "put a header on top, such as frequency_hz,magnitude_ohm,phase_deg");
  CurveRoles roles;
  const CurveColumn parts[] = {CurveColumn::frequency, second, CurveColumn::phase};
  for (std::size_t i = 0; i < columns; ++i)
    roles.of(parts[i]) = CurveRole{i, {parts[i], 1, default_unit(parts[i]), false}};
  return roles;
}

UsedColumn used(const NumberTable& table, const CurveRole& role) {
  const bool assumed = role.meaning.unit.empty();
  return {table.has_header() ? table.names[role.column] : "", to_string(role.meaning.column),
          assumed ? default_unit(role.meaning.column) : role.meaning.unit, assumed};
}

std::string column_words(const UsedColumn& column) {
  std::string words = column.quantity + " in " + column.unit;
  if (column.unit_assumed) words += " (assumed)";
  if (!column.name.empty()) words += " (" + in_quotes(column.name) + ")";
  return words;
}

std::string columns_words(const CurveLayout& layout) {
  std::vector<std::string> words;
  for (const auto& column : layout.columns) words.push_back(column_words(column));
  return listed(words);
}

[[noreturn]] void refuse_order(const NumberTable& table, const CurveRole& frequency,
                               const Array& hz, Eigen::Index row) {
  const auto at = static_cast<std::size_t>(row);
  const Place place = table.place(at, frequency.column);
  const std::string above = " (line " + std::to_string(table.rows[at - 1].line) + ")";
  if (hz[row] == hz[row - 1])
    throw InputError(place, "frequency " + number_text(hz[row]) + " Hz stands twice" + above,
                     "keep one row a frequency");
  throw InputError(place,
                   "frequency must rise or fall throughout (got " + number_text(hz[row]) +
                       " Hz after " + number_text(hz[row - 1]) + " Hz" + above + ")",
                   "sort the rows by frequency");
}

/// Frequencies without a unit that make sense only as kilohertz, in a sentence.
std::optional<std::string> kilohertz_warning(const NumberTable& table, const CurveRoles& roles) {
  const auto& role = roles.of(CurveColumn::frequency);
  if (!role || (!role->meaning.unit.empty() && table.has_header())) return std::nullopt;
  const auto& hz = table.columns[role->column];
  const auto [low, high] = std::minmax_element(hz.begin(), hz.end());
  if (!(*low > 0 && *low < 2 && *high < 100 && *high > 30 * *low)) return std::nullopt;
  return "the frequencies reach from " + number_text(*low) + " to " + number_text(*high) +
         " without a unit and look like kHz: name the column frequency_khz if they are";
}

}  // namespace

NumberTable curve_table(std::string text, const std::string& name) {
  NumberTableOptions options;
  options.least_columns = 2;
  options.is_name = [](std::string_view cell) { return column_meaning(cell).has_value(); };
  // A title such as "Impedance response" is made of names too, but names no frequency.
  options.is_header = [](const std::vector<std::string_view>& names) {
    return std::count_if(names.begin(), names.end(), [](std::string_view cell) {
             const auto meaning = column_meaning(cell);
             return meaning && meaning->column == CurveColumn::frequency;
           }) == 1;
  };
  return parse_number_table(std::move(text), name, options);
}

CurveRoles find_roles(const NumberTable& table, CurveColumn second) {
  if (!table.has_header()) return roles_by_number(table, second);
  CurveRoles roles;
  for (std::size_t i = 0; i < table.column_count(); ++i) add_named(roles, table, i);
  settle_resistance(roles, table);
  return roles;
}

CurveLayout layout_of(const NumberTable& table, const CurveRoles& roles,
                      std::vector<std::string>& warnings) {
  CurveLayout layout{"text table", table.layout_text(), {}, table.has_header()};
  for (const auto& role : roles.by_column) {
    if (!role) continue;
    layout.columns.push_back(used(table, *role));
    layout.own_format = layout.own_format && role->meaning.own_name;
  }
  const bool own_marks =
      table.separator == Separator::comma && table.decimal_mark == DecimalMark::point;
  if (!own_marks) warnings.push_back("the table is read as " + table.layout_text());
  if (!table.has_header())
    warnings.push_back("no header names the columns: taken as " + columns_words(layout));
  else if (!layout.own_format)
    warnings.push_back("columns read as " + columns_words(layout));
  if (auto kilohertz = kilohertz_warning(table, roles)) warnings.push_back(std::move(*kilohertz));
  layout.own_format = layout.own_format && own_marks;
  return layout;
}

std::string to_string(const CurveLayout& layout) {
  return layout.format + ": " + layout.table + "; " + columns_words(layout);
}

Array values_of(const NumberTable& table, const CurveRole& role) {
  const auto& column = table.columns[role.column];
  Array values = Eigen::Map<const Array>(column.data(), static_cast<Eigen::Index>(column.size())) *
                 role.meaning.scale;
  if (values.isFinite().all()) return values;
  Eigen::Index row = 0;
  while (std::isfinite(values[row])) ++row;
  const auto at = static_cast<std::size_t>(row);
  throw InputError(table.place(at, role.column),
                   to_string(role.meaning.column) + " " + in_quotes(table.cell(at, role.column)) +
                       " is not a finite number",
                   "remove the row or give its value");
}

void require_physical(const NumberTable& table, const CurveRole& role, const Array& values,
                      const std::string& name) {
  const NumberRange& range = range_of(name);
  for (Eigen::Index row = 0; row < values.size(); ++row)
    if (!range.holds(values[row]))
      throw InputError(table.place(static_cast<std::size_t>(row), role.column),
                       name + " " + beyond_range(values[row]), range_remedy(name));
}

void require_positive(const NumberTable& table, const CurveRole& role, const Array& values,
                      const std::string& remedy) {
  if ((values > 0).all()) return;
  Eigen::Index row = 0;
  while (values[row] > 0) ++row;
  const auto at = static_cast<std::size_t>(row);
  throw InputError(table.place(at, role.column),
                   to_string(role.meaning.column) + " must be positive (got " +
                       printable(table.cell(at, role.column), 60) + ")",
                   remedy);
}

bool falling_order(const NumberTable& table, const CurveRole& frequency, const Array& hz) {
  const Eigen::Index points = hz.size();
  const bool falling = hz[points - 1] < hz[0];
  for (Eigen::Index row = 1; row < points; ++row) {
    const bool in_order = falling ? hz[row] < hz[row - 1] : hz[row] > hz[row - 1];
    if (!in_order) refuse_order(table, frequency, hz, row);
  }
  return falling;
}

}  // namespace ohmtilt
