#include <ohmtilt/chain/read_volume.h>
#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
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

Array required_column(const NumberTable& table, const std::string& name) {
  const auto column = column_of(table, name);
  if (!column)
    throw InputError(Place{table.file, table.header_line}, "the column " + name + " is missing",
                     "head the columns travel_percent,gain_db,imbalance_db");
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
    auto found = volume_table(included_file(table, "file", folder), table.require_text("file"));
    read = {std::move(found.value), std::move(found.warnings)};
  } else if (law != "audio-taper") {
    table.refuse("law", "is \"" + printable(law, 40) + "\", which is not known",
                 "known are audio-taper, linear-taper, decibel and table");
  }
  table.refuse_unknown_keys(known);
  return read;
}

}  // namespace ohmtilt
