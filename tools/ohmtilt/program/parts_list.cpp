#include <ohmtilt/text/error.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/parts_list.h>
#include <algorithm>
#include <limits>

namespace ohmtilt::cli {
namespace {

bool are_alike(const ListedPart& a, const ListedPart& b) {
  return a.kind == b.kind && a.value == b.value && a.unit == b.unit &&
         a.series_ohm == b.series_ohm && a.tolerance_percent == b.tolerance_percent &&
         a.rating_watt == b.rating_watt;
}

/// Parts of one row, the hottest of which counts.
struct PartRow {
  ListedPart part;
  std::vector<std::string> names;
};

std::vector<PartRow> rows_of(const std::vector<ListedPart>& parts) {
  std::vector<PartRow> rows;
  for (const auto& part : parts) {
    const auto row = std::find_if(rows.begin(), rows.end(), [&](const PartRow& known) {
      return !part.unit.empty() && are_alike(known.part, part);
    });
    if (row == rows.end()) {
      rows.push_back({part, {part.name}});
      continue;
    }
    row->names.push_back(part.name);
    if (part.milliwatt)
      row->part.milliwatt = std::max(row->part.milliwatt.value_or(0), *part.milliwatt);
  }
  return rows;
}

std::string joined(const std::vector<std::string>& names) {
  std::string all;
  for (const auto& name : names) all += (all.empty() ? "" : " ") + name;
  return all;
}

std::string code_of(const ListedPart& part) {
  return part.unit == "ohm" && part.value > 0 ? resistance_code(part.value) : "";
}

}  // namespace

std::vector<ListedPart> listed_parts(const Circuit& circuit) {
  std::vector<ListedPart> parts;
  for (const auto& part : circuit.parts()) {
    if (is_source(part.kind)) continue;  // nobody buys an ideal one
    ListedPart one{
        part.name, std::string(kind_name(part.kind)), 0, "", {}, part.tolerance_percent, {}, {}};
    for (const char* unit : {"ohm", "henry", "farad"})
      if (one.unit.empty() && part.has(unit)) {
        one.unit = unit;
        one.value = part.value(unit);
      }
    if (one.unit == "ohm" && one.value == 0) continue;  // a wire
    if (part.has("series_ohm")) one.series_ohm = part.value("series_ohm");
    parts.push_back(std::move(one));
  }
  return parts;
}

std::string parts_csv(const std::vector<ListedPart>& parts) {
  const auto rows = rows_of(parts);
  const double none = std::numeric_limits<double>::quiet_NaN();
  const auto numbers = [&](const auto& value_of) {
    Array values(static_cast<Eigen::Index>(rows.size()));
    for (Eigen::Index i = 0; i < values.size(); ++i)
      values[i] = value_of(rows[static_cast<std::size_t>(i)]);
    return values;
  };
  const auto texts = [&](const auto& text_of) {
    std::vector<std::string> all;
    for (const auto& row : rows) all.push_back(text_of(row));
    return all;
  };
  CsvTable table;
  table.add("count", numbers([](const PartRow& row) { return double(row.names.size()); }));
  table.add("names", texts([](const PartRow& row) { return joined(row.names); }));
  table.add("kind", texts([](const PartRow& row) { return row.part.kind; }));
  table.add("value", numbers([&](const PartRow& row) {
              return row.part.unit.empty() ? none : row.part.value;
            }));
  table.add("unit", texts([](const PartRow& row) { return row.part.unit; }));
  table.add("code", texts([](const PartRow& row) { return code_of(row.part); }));
  table.add("series_ohm",
            numbers([&](const PartRow& row) { return row.part.series_ohm.value_or(none); }));
  table.add("tolerance_percent",
            numbers([](const PartRow& row) { return row.part.tolerance_percent; }));
  table.add("milliwatt",
            numbers([&](const PartRow& row) { return row.part.milliwatt.value_or(none); }));
  table.add("rating_watt",
            numbers([&](const PartRow& row) { return row.part.rating_watt.value_or(none); }));
  return table.text();
}

void add_stock_options(Command& command, std::optional<std::string>& series,
                       std::optional<std::string>& stock) {
  command
      .add_option("--series", series,
                  "preferred values of all parts, E3 to E192 [E24 for resistors, E12 for the rest]")
      ->type_name("E");
  command
      .add_option("--stock", stock,
                  "a file that lists the parts there are: 4R7, 100uH (or 100uH/0.35 with the "
                  "coil's own ohms), 4.7uF")
      ->type_name("FILE");
}

void refuse_stock_and_series(bool stock, bool series) {
  if (stock && series)
    throw InputError("--stock and --series both say what there is", "give one of them");
}

void add_parts_option(Command& command, std::optional<std::string>& file) {
  command
      .add_option("--parts", file,
                  "write the list of parts of one channel as a table (.csv): how many, names, "
                  "value, code, tolerance")
      ->type_name("FILE");
}

}  // namespace ohmtilt::cli
