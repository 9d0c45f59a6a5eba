#include <ohmtilt/measure/meter_columns.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <optional>

namespace ohmtilt {
namespace {

using Names = std::vector<std::string>;

/// "open" stands for the output without a load.
std::optional<double> open_output(std::string_view cell) {
  if (lower(trimmed(cell)) == "open") return std::numeric_limits<double>::infinity();
  return std::nullopt;
}

NumberTable table(const std::filesystem::path& file, const Names& known,
                  std::vector<std::string>& warnings) {
  NumberTableOptions options;
  options.least_columns = 2;
  if (std::find(known.begin(), known.end(), "load_ohm") != known.end())
    options.other_number = open_output;
  options.is_name = [&known](std::string_view name) {
    return meter_column(name, known).has_value();
  };
  NumberTable result = read_number_table(file, options);
  warnings.insert(warnings.end(), result.warnings.begin(), result.warnings.end());
  return result;
}

/// Which column holds each name, its numbers brought to the name's unit. Throws InputError for a
/// name that is unknown or given twice.
std::map<std::string, std::size_t> columns(NumberTable& table, const Names& known,
                                           const Names& without_header,
                                           std::vector<std::string>& warnings) {
  Names names = table.names;
  if (names.empty()) names = without_header;
  std::map<std::string, std::size_t> found;
  Names read_as;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const Place place{table.file, table.header_line};
    const auto column = meter_column(names[i], known);
    if (!column)
      throw InputError(place, "\"" + printable(names[i]) + "\" is no column of such a table",
                       "name them " + listed(known));
    if (!found.emplace(column->name, i).second)
      throw InputError(place, "the column " + column->name + " stands twice", "keep one");
    for (double& value : table.columns[i]) value *= column->factor;
    if (lower(trimmed(names[i])) != column->name)
      read_as.push_back("\"" + printable(names[i]) + "\" as " + column->name +
                        (column->factor == 1 ? "" : " times " + number_text(column->factor)));
  }
  if (!read_as.empty()) warnings.push_back("columns are read as follows: " + listed(read_as));
  return found;
}

/// Values must be finite and above zero; infinity only where it may stand.
void check_cells(const NumberTable& table, std::size_t column, bool infinite_allowed) {
  for (std::size_t row = 0; row < table.row_count(); ++row) {
    const double value = table.columns[column][row];
    if (!(value > 0) || (std::isinf(value) && !infinite_allowed))
      throw InputError(table.place(row, column),
                       "\"" + printable(table.cell(row, column)) + "\" is not possible here",
                       infinite_allowed
                           ? "give a positive number, or open (inf) for the open output"
                           : "give a positive number");
  }
}

Place line_of(const NumberTable& table, std::size_t row) {
  return {table.file, static_cast<long>(table.rows[row].line), 0};
}

void want_columns(const NumberTable& table, std::size_t least, std::size_t most,
                  const std::string& order) {
  if (!table.names.empty() || (table.column_count() >= least && table.column_count() <= most))
    return;
  throw InputError(Place{table.file},
                   std::to_string(table.column_count()) + " columns without names",
                   "put a line over them that names them, such as " + order);
}

}  // namespace

MeterReadings read_meter_readings(const std::filesystem::path& file,
                                  std::vector<std::string>& warnings) {
  const Names known{"frequency_hz", "volt_both", "volt_load", "volt_reference", "ampere"};
  NumberTable readings = table(file, known, warnings);
  want_columns(readings, 3, 3, "frequency_hz,volt_both,volt_load");
  const auto at = columns(readings, known, {"frequency_hz", "volt_both", "volt_load"}, warnings);
  const auto frequency = at.find("frequency_hz");
  if (frequency == at.end())
    throw InputError(Place{readings.file, readings.header_line}, "there is no column frequency_hz",
                     "add it");
  const auto& hz = readings.columns[frequency->second];
  std::vector<std::size_t> order(readings.row_count());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](auto a, auto b) { return hz[a] < hz[b]; });
  const auto column = [&](const char* name) {
    const auto found = at.find(name);
    if (found == at.end()) return Array();
    check_cells(readings, found->second, false);
    require_in_range(readings, found->second, name);
    Array values(static_cast<Eigen::Index>(order.size()));
    for (std::size_t i = 0; i < order.size(); ++i)
      values[static_cast<Eigen::Index>(i)] = readings.columns[found->second][order[i]];
    return values;
  };
  std::vector<Place> places;
  for (const std::size_t row : order) places.push_back(line_of(readings, row));
  return {column("frequency_hz"),   column("volt_both"), column("volt_load"),
          column("volt_reference"), column("ampere"),    std::move(places)};
}

std::vector<SourceReadings> read_source_readings(const std::filesystem::path& file,
                                                 std::vector<std::string>& warnings) {
  const Names known{"frequency_hz", "load_ohm", "volt"};
  NumberTable readings = table(file, known, warnings);
  want_columns(readings, 2, 3, "load_ohm,volt");
  const auto at = columns(
      readings, known, readings.column_count() == 2 ? Names{"load_ohm", "volt"} : known, warnings);
  if (!at.count("load_ohm") || !at.count("volt"))
    throw InputError(Place{readings.file, readings.header_line}, "load_ohm or volt is missing",
                     "name the columns load_ohm and volt, with frequency_hz where there is one");
  for (const auto& [name, column] : at) {
    check_cells(readings, column, name == "load_ohm");
    require_in_range(readings, column, name);
  }
  std::map<double, std::vector<LoadReading>> by_frequency;
  for (std::size_t row = 0; row < readings.row_count(); ++row) {
    const double hz = at.count("frequency_hz") ? readings.columns[at.at("frequency_hz")][row] : 0;
    by_frequency[hz].push_back(
        {readings.columns[at.at("load_ohm")][row], readings.columns[at.at("volt")][row]});
  }
  std::vector<SourceReadings> result;
  for (auto& [hz, loads] : by_frequency) result.push_back({hz, std::move(loads)});
  return result;
}

}  // namespace ohmtilt
