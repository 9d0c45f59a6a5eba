#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/curve_columns.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

/// The note of this key as a percentage >= 0; 0 without one.
double percent_note(const NumberTable& table, const std::string& key) {
  for (const auto& note : table.notes) {
    if (note.key != key) continue;
    const auto percent = parse_number(note.value);
    if (percent && *percent >= 0 && *percent <= 100) return *percent;
    throw InputError(Place{table.file, note.line, 0},
                     key + " is \"" + printable(note.value, 60) + "\", not a percentage",
                     "give a number from 0 to 100, such as 0.5");
  }
  return 0;
}

CurveNotes notes_of(const NumberTable& table) {
  CurveNotes notes;
  notes.title = table.note("title").value_or("");
  if (notes.title.empty()) notes.title = one_line(std::filesystem::path(table.file).stem().string());
  notes.condition = table.note("condition").value_or("");
  notes.origin = table.note("origin").value_or("");
  notes.file = table.file;
  notes.scale_uncertainty_percent = percent_note(table, "scale_uncertainty_percent");
  return notes;
}

/// Refuses a table whose own note calls it another quantity than the one that is wanted.
void check_quantity(const NumberTable& table, const std::string& wanted) {
  for (const auto& note : table.notes) {
    if (note.key != "quantity" || lower(note.value) == wanted) continue;
    throw InputError(
        Place{table.file, note.line, 0},
        "the file says that its quantity is \"" + printable(note.value, 60) + "\", not " + wanted,
        "give " + std::string(wanted == "impedance" ? "an impedance" : "a response") +
            " file, or correct the note");
  }
}

[[noreturn]] void refuse_missing(const NumberTable& table, const std::string& what,
                                 const std::string& remedy) {
  std::vector<std::string> names;
  for (const auto& name : table.names) names.push_back("\"" + printable(name, 40) + "\"");
  throw InputError(Place{table.file, table.header_line, 0},
                   "no column is " + what + " (found " + printable(listed(names), 160) + ")",
                   remedy);
}

void check_points(const NumberTable& table) {
  if (table.row_count() < 2)
    throw InputError(Place{table.file, table.rows.front().line, 0},
                     "a curve of one point has no range", "give at least two frequencies");
}

Array frequencies(const NumberTable& table, const CurveRoles& roles) {
  if (!roles.has(CurveColumn::frequency))
    refuse_missing(table, "a frequency", "name one, such as frequency_hz");
  const CurveRole& role = *roles.of(CurveColumn::frequency);
  Array hz = values_of(table, role);
  require_positive(table, role, hz, "remove the row; a curve in ln f has no place for it");
  require_physical(table, role, hz, "frequency_hz");
  return hz;
}

/// The columns of an impedance, in the order of the rows.
struct ImpedanceColumns {
  Array frequency_hz, magnitude_ohm, phase_deg, uncertainty_ohm;
};

void refuse_response(const NumberTable& table, const CurveRoles& roles) {
  if (!roles.has(CurveColumn::level) || roles.has(CurveColumn::magnitude)) return;
  const CurveRole& role = *roles.of(CurveColumn::level);
  throw InputError(Place{table.file, table.header_line, 0},
                   "column \"" + printable(table.names[role.column], 60) +
                       "\" is in dB: this is a response, not an impedance",
                   "give a file in ohm");
}

void fill_from_parts(const NumberTable& table, const CurveRoles& roles, ImpedanceColumns& result) {
  const CurveRole& real = *roles.of(CurveColumn::real);
  const Array real_ohm = values_of(table, real);
  const Array imag_ohm = values_of(table, *roles.of(CurveColumn::imaginary));
  result.magnitude_ohm =
      real_ohm.binaryExpr(imag_ohm, [](double r, double x) { return std::hypot(r, x); });
  result.phase_deg =
      real_ohm.binaryExpr(imag_ohm, [](double r, double x) { return std::atan2(x, r) / degree; });
  for (Eigen::Index row = 0; row < real_ohm.size(); ++row)
    if (!(result.magnitude_ohm[row] > 0) || !std::isfinite(result.magnitude_ohm[row]))
      throw InputError(
          table.place(static_cast<std::size_t>(row), real.column),
          "the impedance has a magnitude of " + number_text(result.magnitude_ohm[row]) + " ohm",
          "remove the row or give its value");
  require_physical(table, real, result.magnitude_ohm, "magnitude_ohm");
}

void fill_from_magnitude(const NumberTable& table, const CurveRoles& roles,
                         ImpedanceColumns& result) {
  const CurveRole& magnitude = *roles.of(CurveColumn::magnitude);
  result.magnitude_ohm = values_of(table, magnitude);
  require_positive(table, magnitude, result.magnitude_ohm,
                   table.has_header()
                       ? "an impedance's magnitude is above 0 ohm; correct the row"
                       : "if the column is a real part or in dB, put a header on top that says so");
  require_physical(table, magnitude, result.magnitude_ohm, "magnitude_ohm");
  if (!roles.has(CurveColumn::phase)) return;
  result.phase_deg = values_of(table, *roles.of(CurveColumn::phase));
  require_physical(table, *roles.of(CurveColumn::phase), result.phase_deg, "phase_deg");
}

/// Refuses one of the two parts without the other.
void require_both_parts(const NumberTable& table, const CurveRoles& roles) {
  const bool real = roles.has(CurveColumn::real), imaginary = roles.has(CurveColumn::imaginary);
  const std::string or_drop =
      roles.has(CurveColumn::magnitude) ? ", or remove the other part from the file" : "";
  if (real && !imaginary)
    refuse_missing(table, "the imaginary part", "name one, such as imag_ohm" + or_drop);
  if (imaginary && !real)
    refuse_missing(table, "the real part", "name one, such as real_ohm" + or_drop);
}

/// Fills magnitude and phase from those columns, or from real and imaginary parts.
void fill_impedance(const NumberTable& table, CurveRoles& roles, ImpedanceColumns& result) {
  require_both_parts(table, roles);
  if (roles.has(CurveColumn::magnitude)) {
    if (roles.has(CurveColumn::real))
      roles.warnings.push_back(
          "magnitude is used; the real and imaginary parts beside it are left out");
    roles.of(CurveColumn::real).reset();
    roles.of(CurveColumn::imaginary).reset();
    return fill_from_magnitude(table, roles, result);
  }
  if (roles.has(CurveColumn::real)) {
    roles.of(CurveColumn::phase).reset();
    return fill_from_parts(table, roles, result);
  }
  refuse_missing(table, "an impedance", "name one, such as magnitude_ohm");
}

ImpedanceColumns impedance_columns(const NumberTable& table, CurveRoles& roles) {
  ImpedanceColumns result;
  refuse_response(table, roles);
  result.frequency_hz = frequencies(table, roles);
  fill_impedance(table, roles, result);
  if (const auto& role = roles.of(CurveColumn::uncertainty)) {
    result.uncertainty_ohm = values_of(table, *role);
    for (Eigen::Index row = 0; row < result.uncertainty_ohm.size(); ++row)
      if (result.uncertainty_ohm[row] < 0)
        throw InputError(table.place(static_cast<std::size_t>(row), role->column),
                         "an uncertainty cannot be negative", "give a standard uncertainty in ohm");
    require_physical(table, *role, result.uncertainty_ohm, "uncertainty_ohm");
  }
  return result;
}

void reverse(Array& values) { values = values.reverse().eval(); }

const char* reversed_warning = "the frequencies fall; the rows were reversed";

void drop(CurveRoles& roles, CurveColumn column) {
  if (!roles.has(column)) return;
  roles.warnings.push_back("the column of the " + to_string(column) + " is left out");
  roles.of(column).reset();
}

/// Puts what the table, its roles and its layout have to say in one list.
CurveLayout collect(const NumberTable& table, const CurveRoles& roles,
                    std::vector<std::string>& warnings) {
  warnings.insert(warnings.begin(), table.warnings.begin(), table.warnings.end());
  CurveLayout layout = layout_of(table, roles, warnings);
  warnings.insert(warnings.end(), roles.warnings.begin(), roles.warnings.end());
  return layout;
}

CurveFile<ImpedanceCurve> impedance_from_table(const NumberTable& table) {
  check_quantity(table, "impedance");
  CurveRoles roles = find_roles(table, CurveColumn::magnitude);
  ImpedanceColumns columns = impedance_columns(table, roles);
  drop(roles, CurveColumn::level);
  check_points(table);
  std::vector<std::string> warnings;
  const bool falling =
      falling_order(table, *roles.of(CurveColumn::frequency), columns.frequency_hz);
  if (falling) {
    warnings.push_back(reversed_warning);
    for (Array* values : {&columns.frequency_hz, &columns.magnitude_ohm, &columns.phase_deg,
                          &columns.uncertainty_ohm})
      reverse(*values);
  }
  CurveLayout layout = collect(table, roles, warnings);
  if (auto active = active_warning(columns.frequency_hz, columns.phase_deg))
    warnings.push_back(std::move(*active));
  return {{ImpedanceCurve(notes_of(table), std::move(columns.frequency_hz),
                          std::move(columns.magnitude_ohm), std::move(columns.phase_deg),
                          std::move(columns.uncertainty_ohm)),
           std::move(warnings)},
          std::move(layout)};
}

/// Without a unit a column called magnitude in a response is a level in dB.
void take_magnitude_as_level(const NumberTable& table, CurveRoles& roles) {
  const auto& magnitude = roles.of(CurveColumn::magnitude);
  if (roles.has(CurveColumn::level) || !magnitude) return;
  if (!magnitude->meaning.unit.empty())
    throw InputError(Place{table.file, table.header_line, 0},
                     "column \"" + printable(table.names[magnitude->column], 60) +
                         "\" is in ohm: this is an impedance, not a response",
                     "give a file in dB");
  roles.of(CurveColumn::level) = CurveRole{magnitude->column, {CurveColumn::level, 1, "", false}};
  roles.of(CurveColumn::magnitude).reset();
}

CurveFile<ResponseCurve> response_from_table(const NumberTable& table) {
  check_quantity(table, "response");
  CurveRoles roles = find_roles(table, CurveColumn::level);
  take_magnitude_as_level(table, roles);
  Array hz = frequencies(table, roles);
  if (!roles.has(CurveColumn::level))
    refuse_missing(table, "a level in dB", "name one, such as magnitude_db");
  Array level_db = values_of(table, *roles.of(CurveColumn::level));
  require_physical(table, *roles.of(CurveColumn::level), level_db, "magnitude_db");
  for (const auto column : {CurveColumn::magnitude, CurveColumn::phase, CurveColumn::real,
                            CurveColumn::imaginary, CurveColumn::uncertainty})
    drop(roles, column);
  check_points(table);
  std::vector<std::string> warnings;
  if (falling_order(table, *roles.of(CurveColumn::frequency), hz)) {
    warnings.push_back(reversed_warning);
    reverse(hz);
    reverse(level_db);
  }
  CurveLayout layout = collect(table, roles, warnings);
  return {{ResponseCurve(notes_of(table), std::move(hz), std::move(level_db)), std::move(warnings)},
          std::move(layout)};
}

CurveFile<ImpedanceCurve> impedance_from_text(std::string text, const std::string& name) {
  if (is_touchstone(text, name)) return impedance_from_touchstone(text, name);
  return impedance_from_table(curve_table(std::move(text), name));
}

CurveFile<ResponseCurve> response_from_text(std::string text, const std::string& name) {
  if (is_touchstone(text, name))
    throw InputError(Place{name}, "this is a Touchstone file: an impedance, not a response",
                     "give a table of frequency and dB");
  return response_from_table(curve_table(std::move(text), name));
}

}  // namespace

Read<ImpedanceCurve> read_impedance(const std::filesystem::path& file) {
  return read_impedance_file(file).read;
}

Read<ResponseCurve> read_response(const std::filesystem::path& file) {
  return read_response_file(file).read;
}

CurveFile<ImpedanceCurve> read_impedance_file(const std::filesystem::path& file) {
  return impedance_from_text(read_text_file(file), file.string());
}

CurveFile<ResponseCurve> read_response_file(const std::filesystem::path& file) {
  return response_from_text(read_text_file(file), file.string());
}

CurveFile<ImpedanceCurve> parse_impedance(std::string bytes, const std::string& name) {
  return impedance_from_text(checked_text(std::move(bytes), name), name);
}

CurveFile<ResponseCurve> parse_response(std::string bytes, const std::string& name) {
  return response_from_text(checked_text(std::move(bytes), name), name);
}

}  // namespace ohmtilt
