#include <fmt/format.h>
#include <plots/axis.h>
#include <plots/figures/survey_figure.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt::plots {
namespace {

constexpr std::size_t most_rows = 40;
constexpr std::size_t most_columns = 12;
/// Of a row, as a part of the house's panel: room for one line of numbers, and more where there are
/// few.
constexpr double low_row = 0.09, high_row = 0.15;

double darkest(const SurveyFigure& figure, std::size_t rows) {
  double largest = figure.least_darkest;
  for (std::size_t i = 0; i < rows; ++i)
    for (const double value : figure.earphones[i].value)
      if (std::isfinite(value)) largest = std::max(largest, std::abs(value));
  return largest;
}

std::string number(const SurveyFigure& figure, double value) {
  if (!std::isfinite(value)) return "-";
  const int decimals = std::abs(value) < 99.5 ? figure.decimals : 0;
  const double shown = std::abs(value) * std::pow(10, decimals) < 0.5 ? 0 : value;  // never "-0.0"
  return figure.with_sign && shown != 0 ? fmt::format("{:+.{}f}", shown, decimals)
                                        : fmt::format("{:.{}f}", shown, decimals);
}

/// Where the column of the largest sources stands, right of the others.
struct SideColumn {
  double low, high;
};
SideColumn side_column(std::size_t columns) {
  const double low = static_cast<double>(columns) * 1.02;
  return {low, low + std::max(0.8, 0.16 * static_cast<double>(columns))};
}

void add_row(const SurveyFigure& figure, const std::vector<std::size_t>& columns, double bottom,
             const SurveyedEarphone& earphone, double darkest_value, Panel& panel) {
  for (std::size_t i = 0; i < columns.size(); ++i) {
    const double value = earphone.value[columns[i]];
    // The root spreads what is small, where hearing begins, over more of the scale.
    const double shade = std::isfinite(value) ? std::sqrt(std::abs(value) / darkest_value) : 0;
    const auto left = static_cast<double>(i);
    panel.cells.push_back(
        {left, left + 1, bottom, bottom + 1, std::min(shade, 1.0), number(figure, value)});
  }
  if (figure.limit.empty()) return;
  const SideColumn side = side_column(columns.size());
  panel.cells.push_back({side.low, side.high, bottom, bottom + 1, 0, earphone.largest_source});
}

Axis source_axis(const SurveyFigure& figure, const std::vector<std::size_t>& columns) {
  std::vector<std::string> names;
  for (const std::size_t column : columns) names.push_back(figure.sources[column]);
  Axis axis = category_axis(names);
  axis.label = "Source, ohm";
  if (figure.limit.empty()) return axis;
  const SideColumn side = side_column(columns.size());
  axis.high = side.high;
  axis.ticks.push_back({(side.low + side.high) / 2, "up to"});
  return axis;
}

Panel matrix(const SurveyFigure& figure, std::size_t rows,
             const std::vector<std::size_t>& columns) {
  Panel panel;
  panel.heading = figure.heading;
  if (!figure.limit.empty()) panel.remark = "up to: highest output impedance for " + figure.limit;
  panel.x = source_axis(figure, columns);
  std::vector<std::string> titles;
  for (std::size_t i = rows; i-- > 0;) titles.push_back(figure.earphones[i].title);
  panel.y = category_axis(titles);
  panel.y.text_share = 0.4;
  const double row =
      std::clamp(1.2 / static_cast<double>(std::max<std::size_t>(rows, 1)), low_row, high_row);
  panel.height = row * static_cast<double>(rows);
  const double darkest_value = darkest(figure, rows);
  for (std::size_t i = 0; i < rows; ++i)
    add_row(figure, columns, static_cast<double>(rows - 1 - i), figure.earphones[i], darkest_value,
            panel);
  return panel;
}

/// All, or an even choice with both ends.
std::vector<std::size_t> even_choice(const std::vector<std::size_t>& all, std::size_t most) {
  if (all.size() <= most) return all;
  std::vector<std::size_t> chosen;
  for (std::size_t i = 0; i < most; ++i)
    chosen.push_back(all[most == 1 ? all.size() - 1 : i * (all.size() - 1) / (most - 1)]);
  return chosen;
}

}  // namespace

std::vector<std::size_t> shown_columns(const std::vector<bool>& kept, std::size_t most) {
  std::vector<std::size_t> named, others;
  for (std::size_t i = 0; i < kept.size(); ++i) (kept[i] ? named : others).push_back(i);
  std::vector<std::size_t> chosen = even_choice(named, most);
  for (const std::size_t i : even_choice(others, most - chosen.size())) chosen.push_back(i);
  std::sort(chosen.begin(), chosen.end());
  return chosen;
}

Sheet sheet_of(const SurveyFigure& figure) {
  const std::size_t rows = std::min(figure.earphones.size(), most_rows);
  std::vector<bool> kept = figure.kept;
  kept.resize(figure.sources.size());
  const auto columns = shown_columns(kept, most_columns);
  Sheet sheet{figure.conclusion, figure.subtitle, figure.caption, {}};
  if (rows < figure.earphones.size())
    sheet.caption +=
        fmt::format("; drawn are the first {} of {} earphones", rows, figure.earphones.size());
  if (columns.size() < figure.sources.size())
    sheet.caption +=
        fmt::format("; drawn are {} of {} sources", columns.size(), figure.sources.size());
  sheet.panels = {matrix(figure, rows, columns)};
  return sheet;
}

}  // namespace ohmtilt::plots
