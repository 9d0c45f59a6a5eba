// Any bytes as a text table: refused with an InputError, or read to values that the project's own
// format carries back bit for bit and without a warning that was not given before.
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/number_table.h>
#include <algorithm>
#include <cstdint>
#include <cstdlib>

namespace {

using ohmtilt::Array;

void require(bool holds) {
  if (!holds) std::abort();
}

bool equal(const Array& a, const Array& b) { return a.size() == b.size() && (a == b).all(); }

void read_table(const std::string& bytes) {
  const auto table = ohmtilt::parse_number_table(ohmtilt::checked_text(bytes, "fuzz"), "fuzz");
  require(!table.layout_text().empty());
  for (std::size_t row = 0; row < table.row_count(); ++row)
    for (std::size_t column = 0; column < table.column_count(); ++column) {
      require(table.place(row, column).column > 0);
      require(!table.cell(row, column).empty());
    }
}

void read_impedance(const std::string& bytes) {
  const auto file = ohmtilt::parse_impedance(bytes, "fuzz.csv");
  const auto& curve = file.read.value;
  const auto back = ohmtilt::parse_impedance(ohmtilt::curve_text(curve), "back.csv");
  for (const auto& warning : back.read.warnings)  // a negative resistance stays one
    require(std::count(file.read.warnings.begin(), file.read.warnings.end(), warning) > 0);
  require(back.layout.own_format);
  require(equal(back.read.value.frequency_hz(), curve.frequency_hz()));
  require(equal(back.read.value.magnitude_ohm(), curve.magnitude_ohm()));
  require(equal(back.read.value.phase_deg(), curve.phase_deg()));
  require(equal(back.read.value.uncertainty_ohm(), curve.uncertainty_ohm()));
}

void read_response(const std::string& bytes) {
  const auto file = ohmtilt::parse_response(bytes, "fuzz.csv");
  const auto back = ohmtilt::parse_response(ohmtilt::curve_text(file.read.value), "back.csv");
  require(back.read.warnings.empty());
  require(equal(back.read.value.level_db(), file.read.value.level_db()));
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string bytes(reinterpret_cast<const char*>(data), size);
  for (const auto read : {read_table, read_impedance, read_response}) {
    try {
      read(bytes);
    } catch (const ohmtilt::InputError&) {
    }
  }
  return 0;
}
