#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

void add_note(std::string& text, const std::string& key, const std::string& value) {
  const std::string line = one_line(trimmed(value));
  if (!line.empty()) text += "# " + key + ": " + line + "\n";
}

std::string notes_text(const CurveNotes& notes, const std::string& quantity) {
  std::string text;
  add_note(text, "title", notes.title);
  add_note(text, "quantity", quantity);
  add_note(text, "condition", notes.condition);
  add_note(text, "origin", notes.origin);
  return text;
}

std::string scale_text(const CurveNotes& notes) {
  if (notes.scale_uncertainty_percent == 0) return "";
  return "# scale_uncertainty_percent: " + number_text(notes.scale_uncertainty_percent) + "\n";
}

struct NamedColumn {
  const char* name;
  const Array& values;
};

/// The columns that are not empty, under their names.
std::string rows_text(const std::vector<NamedColumn>& columns) {
  std::string text;
  const Eigen::Index rows = columns.front().values.size();
  for (const auto& column : columns)
    if (column.values.size() > 0) text += (text.empty() ? "" : ",") + std::string(column.name);
  for (Eigen::Index row = 0; row < rows; ++row) {
    text += "\n" + number_text(columns.front().values[row]);
    for (std::size_t i = 1; i < columns.size(); ++i)
      if (columns[i].values.size() > 0) text += "," + number_text(columns[i].values[row]);
  }
  return text + "\n";
}

}  // namespace

std::string curve_text(const ImpedanceCurve& curve) {
  return notes_text(curve.notes(), "impedance") + scale_text(curve.notes()) +
         rows_text({{"frequency_hz", curve.frequency_hz()},
                    {"magnitude_ohm", curve.magnitude_ohm()},
                    {"phase_deg", curve.phase_deg()},
                    {"uncertainty_ohm", curve.uncertainty_ohm()}});
}

std::string curve_text(const ResponseCurve& curve) {
  return notes_text(curve.notes(), "response") +
         rows_text({{"frequency_hz", curve.frequency_hz()}, {"magnitude_db", curve.level_db()}});
}

}  // namespace ohmtilt
