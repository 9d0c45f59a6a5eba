#include <plots/label_placement.h>
#include <plots/layout.h>
#include <plots/names.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt::plots {
namespace {

using Side = Note::Side;

/// Fills the sheet from the top down.
class Stack {
 public:
  Stack(const Canvas& canvas, Layout& layout) : canvas_(canvas), layout_(layout) {}
  double down() const { return down_; }
  void skip(double room) { down_ += room; }
  /// One row of text; rows() counts from the top until finish() turns heights around.
  void row(const std::string& text, const Face& face, Side side, double x) {
    layout_.texts.push_back({x, down_ + face.line / 2, side, text, face});
  }
  void lines(const std::string& text, const Face& face, std::size_t at_most) {
    if (text.empty()) return;
    const double width = canvas_.width - 2 * canvas_.margin;
    for (const std::string& line : canvas_.lines(drawable(text), face, width, at_most)) {
      row(line, face, Side::left, canvas_.margin);
      skip(face.line);
    }
  }

 private:
  const Canvas& canvas_;
  Layout& layout_;
  double down_ = 0;
};

double widest_tick(const Sheet& sheet, const Canvas& canvas) {
  double width = 0;
  for (const Panel& panel : sheet.panels)
    for (const Tick& tick : panel.y.ticks)
      width = std::max(width, std::min(canvas.text_width(tick.text, canvas.tick),
                                       panel.y.text_share * canvas.width));
  return width;
}

/// The last point of a series that can be drawn, as a fraction of the plot; false if there is none.
bool last_point(const Panel& panel, const Array& x, const Array& y, PlacedLabel& label) {
  for (Eigen::Index i = std::min(x.size(), y.size()) - 1; i >= 0; --i) {
    const double across = panel.x.fraction(x[i]), up = panel.y.fraction(y[i]);
    if (!std::isfinite(across) || !std::isfinite(up)) continue;
    label.x_end = std::clamp(across, 0.0, 1.0);
    label.y_end = std::clamp(up, 0.0, 1.0);
    return true;
  }
  return false;
}

template <class SeriesOf>
constexpr PlacedLabel::Sample sample_of = PlacedLabel::Sample::line;
template <>
constexpr PlacedLabel::Sample sample_of<Points> = PlacedLabel::Sample::mark;
template <>
constexpr PlacedLabel::Sample sample_of<Bars> = PlacedLabel::Sample::bar;

template <class SeriesOf>
bool last_point_of(const Panel& panel, const SeriesOf& series, PlacedLabel& label) {
  if constexpr (sample_of<SeriesOf> == PlacedLabel::Sample::bar)
    return last_point(panel, series.x_high, series.value, label);
  else
    return last_point(panel, series.x, series.y, label);
}

template <class SeriesOf>
void add_labels(const Panel& panel, const std::vector<SeriesOf>& series,
                std::vector<PlacedLabel>& labels) {
  for (const auto& one : series) {
    PlacedLabel label{
        .sample = sample_of<SeriesOf>, .series = one.series, .lines = {drawable(one.label)}};
    if (!one.label.empty() && last_point_of(panel, one, label)) labels.push_back(label);
  }
}

char terminal_sign(const PlacedLabel& label) {
  return label.sample == PlacedLabel::Sample::mark ? terminal_mark(label.series)
                                                   : terminal_letter(label.series);
}

/// Each name in the room beside the panel, names that differ still apart from one another.
void fit_labels(const Canvas& canvas, std::vector<PlacedLabel>& labels) {
  std::vector<std::string> names;
  for (const auto& label : labels) names.push_back(label.lines.front());
  // Two lines of a page lose some of their room where they are broken.
  const double room =
      canvas.terminal ? canvas.widest_label - 2 : 1.7 * canvas.widest_label / canvas.label.size;
  names = shortened_apart(names, room, canvas.terminal ? columns : width_em);
  for (std::size_t i = 0; i < labels.size(); ++i)
    labels[i].lines = canvas.terminal
                          ? std::vector{std::string(1, terminal_sign(labels[i])) + " " + names[i]}
                          : canvas.lines(names[i], canvas.label, canvas.widest_label, 2);
}

std::vector<PlacedLabel> labels_of(const Panel& panel, const Canvas& canvas) {
  std::vector<PlacedLabel> labels;
  add_labels(panel, panel.bars, labels);
  add_labels(panel, panel.lines, labels);
  add_labels(panel, panel.points, labels);
  fit_labels(canvas, labels);
  return labels;
}

double right_margin(const Layout& layout, const Sheet& sheet, const Canvas& canvas) {
  double width = 0;
  for (const PlacedPanel& panel : layout.panels)
    for (const PlacedLabel& label : panel.labels)
      for (const std::string& line : label.lines)
        width = std::max(width, canvas.text_width(line, canvas.label));
  if (width > 0) return canvas.margin + width + canvas.sample + 3 * canvas.space;
  double half_tick = 0;
  for (const Panel& panel : sheet.panels)
    if (!panel.x.ticks.empty())
      half_tick =
          std::max(half_tick, canvas.text_width(panel.x.ticks.back().text, canvas.tick) / 2);
  return std::min(canvas.margin + half_tick, canvas.width / 4);
}

void place_heading(const Panel& panel, const Canvas& canvas, double right, Stack& stack) {
  if (panel.heading.empty() && panel.remark.empty()) return;
  const double room = right - canvas.margin;
  const std::string heading =
      canvas.fitted(drawable(panel.heading), canvas.heading,
                    panel.remark.empty() ? canvas.width - 2 * canvas.margin : 0.62 * room);
  stack.row(heading, canvas.heading, Side::left, canvas.margin);
  const double left = room - canvas.text_width(heading, canvas.heading) - 3 * canvas.space;
  if (!panel.remark.empty())
    stack.row(canvas.fitted(drawable(panel.remark), canvas.remark, left), canvas.remark,
              Side::right, right);
  stack.skip(canvas.heading.line);
}

double height_of(const Panel& panel, const Canvas& canvas) {
  return std::max(std::round(panel.height * canvas.panel_height), 3 * canvas.tick.line);
}

/// Room for the text of a tick so high that it would touch the heading.
double room_for_top_tick(const Panel& panel, const Canvas& canvas) {
  if (canvas.terminal || panel.heading.empty()) return 0;
  const double half = 0.6 * canvas.tick.size;
  double room = 0;
  for (const Tick& tick : panel.y.ticks)
    if (!tick.text.empty())
      room = std::max(room, half - (1 - panel.y.fraction(tick.at)) * height_of(panel, canvas));
  return std::ceil(room);
}

/// Labels at their heights, apart from one another.
void place_labels(PlacedPanel& panel, const Canvas& canvas) {
  std::vector<double> wanted;
  std::size_t most_lines = 1;
  for (PlacedLabel& label : panel.labels) {
    most_lines = std::max(most_lines, label.lines.size());
    label.x_end = panel.plot.x(label.x_end);
    label.y_end = panel.plot.y(label.y_end);
    wanted.push_back(label.y_end);
  }
  const double gap = canvas.label.line * static_cast<double>(most_lines);
  const auto heights = spread(wanted, gap, panel.plot.bottom + gap / 2, panel.plot.top - gap / 2);
  for (std::size_t i = 0; i < heights.size(); ++i) panel.labels[i].y = heights[i];
}

/// Heights were counted from the top: turn them around.
void turn_over(Layout& layout) {
  for (PlacedText& text : layout.texts) text.y = layout.height - text.y;
  for (PlacedPanel& panel : layout.panels) {
    panel.plot.top = layout.height - panel.plot.top;
    panel.plot.bottom = layout.height - panel.plot.bottom;
  }
}

void place_panels(const Sheet& sheet, const Canvas& canvas, Layout& layout, Stack& stack) {
  const double left = canvas.margin + widest_tick(sheet, canvas) + canvas.space;
  const double right = canvas.width - right_margin(layout, sheet, canvas);
  for (std::size_t i = 0; i < sheet.panels.size(); ++i) {
    const Panel& panel = sheet.panels[i];
    if (i > 0) stack.skip(canvas.gap);
    place_heading(panel, canvas, right, stack);
    stack.skip(room_for_top_tick(panel, canvas));
    Box& plot = layout.panels[i].plot;
    plot = {left, right, 0, stack.down()};
    stack.skip(height_of(panel, canvas));
    plot.bottom = stack.down();
    if (panel.shares_x) continue;
    stack.skip(canvas.terminal ? 1 : canvas.tick.line + 2 * canvas.space);
    stack.row(canvas.fitted(drawable(panel.x.label), canvas.tick, right - left), canvas.tick,
              Side::centre, (left + right) / 2);
    stack.skip(canvas.tick.line);
  }
}

}  // namespace

Layout lay_out(const Sheet& sheet, const Canvas& canvas) {
  Layout layout;
  for (const Panel& panel : sheet.panels) layout.panels.push_back({{}, labels_of(panel, canvas)});
  Stack stack(canvas, layout);
  stack.skip(canvas.terminal ? 0 : canvas.margin);
  stack.lines(sheet.title, canvas.title, 2);
  stack.lines(sheet.subtitle, canvas.subtitle, 1);
  if (!sheet.title.empty() || !sheet.subtitle.empty()) stack.skip(canvas.gap);
  place_panels(sheet, canvas, layout, stack);
  stack.skip(canvas.terminal ? 0 : canvas.gap / 2);
  stack.lines(sheet.caption, canvas.caption, 3);
  stack.skip(canvas.terminal ? 0 : canvas.margin / 2);
  layout.height = std::ceil(stack.down());
  turn_over(layout);
  for (PlacedPanel& panel : layout.panels) place_labels(panel, canvas);
  return layout;
}

}  // namespace ohmtilt::plots
