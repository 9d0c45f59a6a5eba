#include <ohmtilt/circuit/tolerance_detail.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

const std::vector<std::pair<std::string_view, Distribution>> distributions{
    {"uniform", Distribution::uniform},
    {"normal", Distribution::normal},
    {"binned", Distribution::binned}};

void refuse_outside(const TomlTable& table, const char* key, double value, double most) {
  if (!(value >= 0 && value < most))
    table.refuse(key, "is " + number_text(value),
                 "it should be from 0 to less than " + number_text(most));
}

void read_figures(const TomlTable& table, ToleranceDetail& detail) {
  const auto figures = table.table("figure_tolerance_percent");
  if (!figures) return;
  for (const auto& key : figures->keys()) {
    const double percent = figures->require_number(key);
    if (!(percent >= 0 && percent < 100))
      figures->refuse(key, "is " + number_text(percent), "it should be from 0 to less than 100");
    detail.figure_percent.emplace_back(key, percent);
  }
}

void read_distribution(const TomlTable& table, double tolerance_percent, ToleranceDetail& detail) {
  if (table.has("distribution")) {
    const std::string name = table.require_text("distribution");
    detail.distribution = distribution_of_name(name);
    if (!detail.distribution)
      table.refuse("distribution", "is \"" + printable(name, 40) + "\"",
                   "say \"uniform\", \"normal\" or \"binned\"");
  }
  detail.sorted_out_percent = table.number_or("sorted_out_percent", 0);
  const bool binned = detail.distribution == Distribution::binned;
  if (binned != table.has("sorted_out_percent"))
    table.refuse(binned ? "distribution" : "sorted_out_percent",
                 "needs distribution = \"binned\" with sorted_out_percent", "give both or neither");
  if (binned)
    refuse_outside(table, "sorted_out_percent", detail.sorted_out_percent, tolerance_percent);
}

void read_group(const TomlTable& table, double tolerance_percent, ToleranceDetail& detail) {
  detail.group = table.text_or("tolerance_group", "");
  detail.matching_percent = table.number_or("matching_percent", 0);
  detail.group_in_one_channel = table.flag_or("group_in_one_channel", false);
  for (const char* key : {"matching_percent", "group_in_one_channel"})
    if (detail.group.empty() && table.has(key))
      table.refuse(key, "is of a group, and none is named", "give a tolerance_group");
  const bool with_figures = !detail.figure_percent.empty();
  if (!with_figures && detail.matching_percent > tolerance_percent)
    table.refuse(
        "matching_percent", "is " + number_text(detail.matching_percent),
        "it is part of the tolerance_percent, so at most " + number_text(tolerance_percent));
  if (!(detail.matching_percent >= 0 && detail.matching_percent < 100))
    refuse_outside(table, "matching_percent", detail.matching_percent, 100);
}

void read_heat(const TomlTable& table, ToleranceDetail& detail) {
  constexpr double most_ppm = 1e5, most_kelvin_per_watt = 1e6;
  const auto ppm = [&](const char* key) {
    const double value = table.number_or(key, 0);
    if (!(value > -most_ppm && value < most_ppm))
      table.refuse(key, "is " + number_text(value), "it should be from -1e5 to 1e5");
    return value;
  };
  detail.ppm_per_kelvin = ppm("temperature_ppm_per_kelvin");
  if (table.has("winding_ppm_per_kelvin"))
    detail.winding_ppm_per_kelvin = ppm("winding_ppm_per_kelvin");
  detail.kelvin_per_watt = table.number_or("kelvin_per_watt", 0);
  refuse_outside(table, "kelvin_per_watt", detail.kelvin_per_watt, most_kelvin_per_watt);
}

void add_line(std::string& text, const char* key, double value) {
  if (value != 0) text += std::string(key) + " = " + toml_number(value) + "\n";
}

}  // namespace

std::optional<Distribution> distribution_of_name(std::string_view name) {
  for (const auto& [known, distribution] : distributions)
    if (known == name) return distribution;
  return std::nullopt;
}

std::string_view distribution_name(Distribution distribution) {
  for (const auto& [known, one] : distributions)
    if (one == distribution) return known;
  return "";
}

double ToleranceDetail::percent_of(std::string_view key, double tolerance_percent) const {
  for (const auto& [figure, percent] : figure_percent)
    if (figure == key) return percent;
  return tolerance_percent;
}

std::vector<std::string> tolerance_detail_keys(bool with_figures) {
  std::vector<std::string> keys{
      "tolerance_group",    "matching_percent",           "group_in_one_channel", "distribution",
      "sorted_out_percent", "temperature_ppm_per_kelvin", "kelvin_per_watt"};
  if (with_figures) {
    keys.emplace_back("figure_tolerance_percent");
    keys.emplace_back("winding_ppm_per_kelvin");
  }
  return keys;
}

std::shared_ptr<const ToleranceDetail> read_tolerance_detail(const TomlTable& table,
                                                             double tolerance_percent) {
  bool any = false;
  for (const auto& key : tolerance_detail_keys(true)) any = any || table.has(key);
  if (!any) return nullptr;
  ToleranceDetail detail;
  read_figures(table, detail);
  read_group(table, tolerance_percent, detail);
  read_distribution(table, tolerance_percent, detail);
  read_heat(table, detail);
  return std::make_shared<const ToleranceDetail>(std::move(detail));
}

std::string tolerance_detail_lines(const std::shared_ptr<const ToleranceDetail>& detail) {
  if (!detail) return "";
  std::string text;
  if (!detail->group.empty()) text += "tolerance_group = " + toml_quoted(detail->group) + "\n";
  add_line(text, "matching_percent", detail->matching_percent);
  if (detail->group_in_one_channel) text += "group_in_one_channel = true\n";
  if (detail->distribution)
    text += "distribution = \"" + std::string(distribution_name(*detail->distribution)) + "\"\n";
  if (detail->distribution == Distribution::binned)
    text += "sorted_out_percent = " + toml_number(detail->sorted_out_percent) + "\n";
  add_line(text, "temperature_ppm_per_kelvin", detail->ppm_per_kelvin);
  add_line(text, "winding_ppm_per_kelvin", detail->winding_ppm_per_kelvin);
  add_line(text, "kelvin_per_watt", detail->kelvin_per_watt);
  if (detail->figure_percent.empty()) return text;
  std::string figures;
  for (const auto& [key, percent] : detail->figure_percent)
    figures += (figures.empty() ? "" : ", ") + toml_quoted(key) + " = " + toml_number(percent);
  return text + "figure_tolerance_percent = {" + figures + "}\n";
}

}  // namespace ohmtilt
