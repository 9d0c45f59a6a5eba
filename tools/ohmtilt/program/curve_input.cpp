#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/curve_input.h>
#include <algorithm>

namespace ohmtilt::cli {

CurveInput read_curve_input(const std::string& file) {
  if (!is_toml_name(file)) {
    auto read = read_impedance_file(file);
    const auto& columns = read.layout.columns;
    const bool stated =
        read.layout.format != "text table" ||
        std::none_of(columns.begin(), columns.end(), [](const UsedColumn& column) {
          return column.quantity == "magnitude" && (column.unit_assumed || column.name.empty());
        });
    return {std::move(read.read.value),
            to_string(read.layout),
            {},
            stated,
            std::move(read.read.warnings)};
  }
  Earphone earphone = read_earphone(file);
  if (!earphone.curve)
    throw InputError(printable(file) + " has a circuit and no measured curve",
                     "give a curve file, or ask `ohmtilt solve` about the circuit");
  return {*earphone.curve, "", earphone.rated_ohm, true, std::move(earphone.warnings)};
}

const char* phase_word(const ImpedanceCurve& curve) {
  return to_string(curve.has_phase() ? PhaseOrigin::measured : PhaseOrigin::minimum);
}

Array phase_of(const ComplexArray& values) { return unwrapped_deg(values.arg() / degree); }

std::string notes_text(const CurveNotes& notes) {
  std::string text;
  if (!notes.condition.empty()) text += "condition: " + printable(notes.condition);
  if (!notes.origin.empty())
    text += (text.empty() ? "" : "; ") + std::string("origin: ") + printable(notes.origin);
  return text.empty() ? "how it was taken is not said" : text;
}

}  // namespace ohmtilt::cli
