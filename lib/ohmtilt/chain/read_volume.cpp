#include <ohmtilt/chain/read_volume.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace ohmtilt {
namespace {

const std::vector<std::string> column_names{"travel_percent", "gain_db", "imbalance_db"};

bool is_column_name(std::string_view text) {
  return std::find(column_names.begin(), column_names.end(), lower(trimmed(text))) !=
         column_names.end();
}

std::optional<std::size_t> column_of(const NumberTable& table, const std::string& name) {
  for (std::size_t i = 0; i < table.names.size(); ++i)
    if (lower(trimmed(table.names[i])) == name) return i;
  return std::nullopt;
}

/// Refuses a cell of the table, by its own file and line.
[[noreturn]] void refuse_cell(const NumberTable& table, std::size_t row, const std::string& name,
                              const std::string& wrong, const std::string& remedy) {
  const std::size_t column = *column_of(table, name);
  throw InputError(table.place(row, column),
                   "the " + name + " of " + number_text(table.columns[column][row]) + " " + wrong,
                   remedy);
}

/// Of one row; before is the travel of the row above.
void check_row(const NumberTable& table, std::size_t row, double before,
               const VolumeTable& volume) {
  const auto i = static_cast<Eigen::Index>(row);
  const double travel = volume.travel_percent[i];
  if (!(travel >= 0 && travel <= 100))
    refuse_cell(table, row, "travel_percent", "is outside 0 to 100", "give percent of the travel");
  if (row > 0 && !(travel > before))
    refuse_cell(table, row, "travel_percent", "does not rise above the one before",
                "sort the rows by travel");
  if (!std::isfinite(volume.gain_db[i]))
    refuse_cell(table, row, "gain_db", "is not finite", "give decibels re full travel");
  if (!(volume.imbalance_db[i] >= 0 && std::isfinite(volume.imbalance_db[i])))
    refuse_cell(table, row, "imbalance_db", "is no difference between two channels",
                "give its size in decibels, 0 or more");
}

void check_rows(const NumberTable& table, const VolumeTable& volume) {
  if (table.row_count() < 2)
    throw InputError(Place{table.file}, "a volume table of one row has no travel",
                     "give travel_percent and gain_db in two rows or more");
  for (std::size_t row = 0; row < table.row_count(); ++row)
    check_row(table, row, row == 0 ? 0 : volume.travel_percent[static_cast<Eigen::Index>(row) - 1],
              volume);
}

Array required_column(const NumberTable& table, const std::string& name) {
  const auto column = column_of(table, name);
  if (!column)
    throw InputError(Place{table.file, table.header_line}, "the column " + name + " is missing",
                     "head the columns travel_percent,gain_db,imbalance_db");
  require_in_range(table, *column, name);
  const auto& values = table.columns[*column];
  return Eigen::Map<const Array>(values.data(), static_cast<Eigen::Index>(values.size()));
}

Read<VolumeTable> volume_table(const std::filesystem::path& file, const std::string& written) {
  NumberTableOptions options;
  options.least_columns = 2;
  options.most_rows = 100'000;
  options.is_name = is_column_name;
  const NumberTable table = read_number_table(file, options);
  VolumeTable volume{
      written, required_column(table, "travel_percent"), required_column(table, "gain_db"), {}};
  volume.imbalance_db = column_of(table, "imbalance_db") ? required_column(table, "imbalance_db")
                                                         : Array::Zero(volume.gain_db.size());
  check_rows(table, volume);
  return {std::move(volume), table.warnings};
}

}  // namespace

Read<VolumeLaw> read_volume_law(const TomlTable& table, const std::filesystem::path& folder) {
  const std::string law = table.require_text("law");
  std::vector<std::string> known{"law"};
  if (law == "decibel") known.push_back("step_db");
  if (law == "table") known.push_back("file");
  Read<VolumeLaw> read;
  if (law == "linear-taper") {
    read.value = LinearTaper{};
  } else if (law == "decibel") {
    read.value = DecibelSteps{table.require_number("step_db")};
  } else if (law == "table") {
    auto found = volume_table(included_file(table, "file", folder), table.require_file_name("file"));
    read = {std::move(found.value), std::move(found.warnings)};
  } else if (law != "audio-taper") {
    table.refuse("law", "is \"" + printable(law, 40) + "\", which is not known",
                 "known are audio-taper, linear-taper, decibel and table");
  }
  table.refuse_unknown_keys(known);
  return read;
}

}  // namespace ohmtilt
