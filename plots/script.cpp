#include <fmt/format.h>
#include <plots/layout.h>
#include <plots/script.h>

#include <charconv>
#include <cmath>
#include <iterator>

namespace ohmtilt::plots {
namespace {

/// Gathers the commands of one sheet.
class Writer {
 public:
  Writer(const Canvas& on, const Layout& placed) : canvas(on), layout(placed) {}
  template <class... Arguments>
  void put(fmt::format_string<Arguments...> format, Arguments&&... arguments) {
    fmt::format_to(std::back_inserter(text), format, std::forward<Arguments>(arguments)...);
  }
  void number(double value) {
    char buffer[32];
    const auto end =
        std::to_chars(buffer, buffer + sizeof buffer, value, std::chars_format::general, 6).ptr;
    text.append(std::isfinite(value) ? std::string_view(buffer, end) : std::string_view("NaN"));
  }
  /// A point of the canvas in gnuplot's words.
  std::string at(double x, double y) const {
    return fmt::format("screen {:.5f},screen {:.5f}", x / canvas.width, y / layout.height);
  }
  std::string font(const Face& face) const {
    if (canvas.terminal) return "";
    return fmt::format(" font '{},{:g}' tc rgb '{}'", face.bold ? bold : "sans-serif", face.size,
                       face.colour);
  }

  const Canvas& canvas;
  const Layout& layout;
  const char* bold = "sans-serif:Bold";
  std::string text;
};

constexpr const char* side_words[] = {"left", "center", "right"};

void write_terminal(Writer& w, Format format) {
  const double width = w.canvas.width, height = w.layout.height;
  w.put("set encoding utf8\nset decimalsign '.'\nset datafile missing\n");
  switch (format) {
    case Format::svg:
      // gnuplot's SVG knows bold only in enhanced text, and writes a font's name as it stands.
      w.bold = "sans-serif\" font-weight=\"bold";
      w.put(
          "set terminal svg size {:.0f},{:.0f} font 'sans-serif,12' noenhanced background "
          "'#ffffff' "
          "name 'ohmtilt'\n",
          width, height);
      break;
    case Format::png:
      w.put(
          "set terminal pngcairo size {:.0f},{:.0f} font 'sans-serif,12' fontscale 1.5 linewidth 2 "
          "pointscale 2 "
          "noenhanced background '#ffffff'\n",
          2 * width, 2 * height);
      break;
    case Format::pdf:
      w.put(
          "set terminal pdfcairo size {:.4f},{:.4f} font 'sans-serif,12' fontscale 0.72 linewidth "
          "0.72 pointscale 0.72 "
          "noenhanced background '#ffffff'\n",
          width / 100, height / 100);
      break;
    case Format::terminal:
      w.put("set terminal dumb noenhanced mono nofeed size {:.0f},{:.0f}\n", width, height);
      break;
    case Format::window:
      w.put(
          "persist = ' persist'\n"
          "do for [name in 'x11 wxt qt'] {{ if (strstrt(GPVAL_TERMINALS, name)) {{ "
          "set terminal @name size {:.0f},{:.0f} font 'sans-serif,12' noenhanced persist }} }}\n",
          width, height);
      break;
  }
}

void write_texts(Writer& w) {
  for (const PlacedText& text : w.layout.texts) {
    if (text.text.empty()) continue;
    w.put("set label {} at {} {}{} noenhanced front\n", quoted(text.text), w.at(text.x, text.y),
          side_words[static_cast<int>(text.side)], w.font(text.face));
  }
}

void write_axis(Writer& w, const Axis& axis, char name, bool texts) {
  w.put("set {}range [{:.10g}:{:.10g}]\n", name, axis.low, axis.high);
  w.put("{}set logscale {}\n", axis.scale == Scale::logarithmic ? "" : "un", name);
  w.put("set {}tics nomirror noenhanced{} scale {}{} (", name, w.canvas.terminal ? "" : " out",
        name == 'x' ? "0.5,0.25" : "0,0", w.font(w.canvas.tick));
  const char* between = "";
  for (const Tick& tick : axis.ticks) {
    const double room = w.canvas.width / 4 - w.canvas.margin;
    const std::string text = texts ? w.canvas.fitted(drawable(tick.text), w.canvas.tick, room) : "";
    w.put("{}{} {:.10g} {}", between, quoted(text), tick.at, tick.text.empty() ? 1 : 0);
    between = ",";
  }
  w.put(")\n");
}

void write_grid(Writer& w, const Panel& panel) {
  w.put("unset grid\n");
  if (w.canvas.terminal) {
    w.put("set border 3\n");
    return;
  }
  w.put("set border 1 lc rgb '{}' lw 0.8\n", axis_colour);
  if (panel.x.grid || panel.y.grid)
    w.put("set grid {} {} back lt 1 lc rgb '{}' lw 0.8 dt solid\n",
          panel.x.grid ? "xtics" : "noxtics", panel.y.grid ? "ytics" : "noytics", grid_colour);
}

void write_rule(Writer& w, const Rule& rule) {
  const bool upright = rule.direction == Rule::Direction::upright;
  const std::string style = w.canvas.terminal ? "lt 0"
                                              : fmt::format("lc rgb '{}' lw 1 dt {}", rule_colour,
                                                            upright ? "(5,3)" : "solid");
  const auto end = [&](int graph) {
    return upright ? fmt::format("first {:.10g},graph {}", rule.at, graph)
                   : fmt::format("graph {},first {:.10g}", graph, rule.at);
  };
  w.put("set arrow from {} to {} nohead back {}\n", end(0), end(1), style);
  if (rule.pointed && !w.canvas.terminal)
    w.put("set label '' at {} point pt 11 ps 0.7 lc rgb '{}' front\n", end(1), quiet_colour);
}

void write_strip(Writer& w, const Strip& strip) {
  if (w.canvas.terminal) return;
  w.put(
      "set object rectangle from first {:.10g},graph 0 to first {:.10g},graph 1 behind fc rgb '{}' "
      "fs solid 1 noborder\n",
      strip.x_low, strip.x_high, strip_colour);
}

void write_note(Writer& w, double x, double y, Note::Side side, const std::string& text,
                const std::string& colour) {
  if (text.empty()) return;
  Face face = w.canvas.label;
  face.colour = colour;
  w.put("set label {} at first {:.10g},first {:.10g} {}{} noenhanced front\n", quoted(text), x, y,
        side_words[static_cast<int>(side)], w.font(face));
}

void write_notes(Writer& w, const Panel& panel) {
  for (const Note& note : panel.notes)
    write_note(w, note.x, note.y, note.side, note.text, text_colour);
  for (const Cell& cell : panel.cells)
    write_note(w, (cell.x_low + cell.x_high) / 2, (cell.y_low + cell.y_high) / 2,
               Note::Side::centre, cell.text, colour_on_shade(cell.shade));
  for (const Points& points : panel.points)
    for (std::size_t i = 0;
         i < points.texts.size() && static_cast<Eigen::Index>(i) < points.x.size(); ++i)
      write_note(w, points.x[static_cast<Eigen::Index>(i)], points.y[static_cast<Eigen::Index>(i)],
                 Note::Side::left, "  " + points.texts[i], text_colour);
}

void write_sample(Writer& w, const PlacedLabel& label, double from, double to) {
  const std::string left = w.at(from, label.y), right = w.at(to, label.y);
  switch (label.sample) {
    case PlacedLabel::Sample::line:
      w.put("set arrow from {} to {} nohead front {}\n", left, right,
            line_style(w.canvas, label.series));
      break;
    case PlacedLabel::Sample::mark:
      w.put("set label '' at {} point {} front\n", w.at((from + to) / 2, label.y),
            mark_style(w.canvas, label.series));
      break;
    case PlacedLabel::Sample::bar:
      w.put("set object rectangle from {} to {} front fc rgb '{}' fs solid 1 noborder\n",
            w.at(from, label.y - 4), w.at(to, label.y + 4), colour(label.series));
      break;
  }
}

/// A thin line from where the series ends to its label, where they are apart.
void write_leader(Writer& w, const PlacedLabel& label, double right, double to) {
  const bool apart = std::abs(label.y - label.y_end) > w.canvas.label.line / 6 ||
                     right - label.x_end > w.canvas.space;
  if (apart)
    w.put("set arrow from {} to {} nohead front lc rgb '{}' lw 0.8 dt solid\n",
          w.at(label.x_end, label.y_end), w.at(to, label.y), colour(label.series));
}

void write_label(Writer& w, const Box& plot, const PlacedLabel& label) {
  const double sample_at = plot.right + 1.5 * w.canvas.space;
  const double text_at = plot.right + 2 * w.canvas.space + w.canvas.sample;
  std::string text = label.text;
  if (w.canvas.terminal) {
    text = terminal_letter(label.series) + (" " + text);
  } else {
    write_leader(w, label, plot.right, sample_at);
    write_sample(w, label, sample_at, text_at - w.canvas.space);
  }
  w.put("set label {} at {} left{} noenhanced front\n", quoted(text),
        w.at(w.canvas.terminal ? plot.right + 1 : text_at, label.y), w.font(w.canvas.label));
}

/// The data of one panel in blocks, and the plot command that draws them.
class PlotCommand {
 public:
  explicit PlotCommand(Writer& writer) : w_(writer) {}

  template <class Columns>
  void add(Eigen::Index rows, Columns columns, const std::string& how) {
    w_.put("$d{} << EOD\n", count_);
    for (Eigen::Index row = 0; row < rows; ++row) write_row(columns(row));
    w_.put("EOD\n");
    command_ += fmt::format("$d{} {},", count_++, how);
  }
  /// value_out_of_sight keeps gnuplot content where there is nothing to draw.
  void finish(double value_out_of_sight) {
    w_.put("plot {} {:.10g} with lines lt -1\n", command_, value_out_of_sight);
  }

 private:
  template <std::size_t count>
  void write_row(const std::array<double, count>& values) {
    for (const double value : values) {
      w_.number(value);
      w_.text += ' ';
    }
    w_.text.back() = '\n';
  }
  Writer& w_;
  int count_ = 0;
  std::string command_;
};

using Row2 = std::array<double, 2>;
using Row3 = std::array<double, 3>;
using Row6 = std::array<double, 6>;
using Row7 = std::array<double, 7>;

void plot_areas(const Panel& panel, PlotCommand& plot) {
  for (const Area& area : panel.areas)
    plot.add(
        area.x.size(),
        [&](Eigen::Index i) {
          return Row3{area.x[i], area.low[i], area.high[i]};
        },
        fmt::format("using 1:2:3 with filledcurves fc rgb '{}' fs solid 1 noborder",
                    tint(area.series)));
}

void plot_bars(const Panel& panel, const Canvas& canvas, PlotCommand& plot) {
  for (const Bars& bars : panel.bars) {
    const auto row = [&](Eigen::Index i) {
      const double low = std::min(bars.base, bars.value[i]),
                   high = std::max(bars.base, bars.value[i]);
      return Row6{bars.x_low[i], low, bars.x_low[i], bars.x_high[i], low, high};
    };
    plot.add(bars.value.size(), row,
             canvas.terminal
                 ? "using 1:2:3:4:5:6 with boxxyerror lt -1"
                 : fmt::format("using 1:2:3:4:5:6 with boxxyerror fc rgb '{}' fs solid 1 "
                               "border lc rgb '#ffffff' lw 1",
                               colour(bars.series)));
  }
}

void plot_cells(const Panel& panel, PlotCommand& plot) {
  if (panel.cells.empty()) return;
  const auto row = [&](Eigen::Index i) {
    const Cell& cell = panel.cells[static_cast<std::size_t>(i)];
    const double rgb = std::stoi(shade_colour(cell.shade).substr(1), nullptr, 16);
    return Row7{cell.x_low, cell.y_low, cell.x_low, cell.x_high, cell.y_low, cell.y_high, rgb};
  };
  plot.add(
      static_cast<Eigen::Index>(panel.cells.size()), row,
      "using 1:2:3:4:5:6:7 with boxxyerror lc rgb variable fs solid 1 border lc rgb '#ffffff'");
}

void plot_lines(const Panel& panel, const Canvas& canvas, PlotCommand& plot) {
  for (const Line& line : panel.lines)
    plot.add(
        line.x.size(),
        [&](Eigen::Index i) {
          return Row2{line.x[i], line.y[i]};
        },
        "with lines " + line_style(canvas, line.series));
}

void plot_points(const Panel& panel, const Canvas& canvas, PlotCommand& plot) {
  for (const Points& points : panel.points)
    plot.add(
        points.x.size(),
        [&](Eigen::Index i) {
          return Row2{points.x[i], points.y[i]};
        },
        "with points " + mark_style(canvas, points.series));
}

void write_plot(Writer& w, const Panel& panel) {
  PlotCommand plot(w);
  if (!w.canvas.terminal) plot_areas(panel, plot);
  plot_bars(panel, w.canvas, plot);
  plot_cells(panel, plot);
  plot_lines(panel, w.canvas, plot);
  plot_points(panel, w.canvas, plot);
  const Axis& y = panel.y;
  plot.finish(y.scale == Scale::logarithmic ? y.low / 100 : y.low - 100 * (y.high - y.low));
}

void write_panel(Writer& w, const Panel& panel, const PlacedPanel& placed) {
  const Box& plot = placed.plot;
  w.put("set lmargin at screen {:.5f}\nset rmargin at screen {:.5f}\n", plot.left / w.canvas.width,
        plot.right / w.canvas.width);
  w.put("set bmargin at screen {:.5f}\nset tmargin at screen {:.5f}\n",
        plot.bottom / w.layout.height, plot.top / w.layout.height);
  write_axis(w, panel.x, 'x', !panel.shares_x);
  write_axis(w, panel.y, 'y', true);
  write_grid(w, panel);
  for (const Strip& strip : panel.strips) write_strip(w, strip);
  for (const Rule& rule : panel.rules) write_rule(w, rule);
  for (const PlacedLabel& label : placed.labels) write_label(w, plot, label);
  write_notes(w, panel);
  write_plot(w, panel);
  w.put("unset label\nunset arrow\nunset object\n");
}

Sheet for_terminal(Sheet sheet) {
  std::erase_if(sheet.panels, [](const Panel& panel) { return !panel.in_terminal; });
  if (!sheet.panels.empty()) sheet.panels.back().shares_x = false;
  return sheet;
}

}  // namespace

std::string script(const Sheet& whole, Format format) {
  const bool terminal = format == Format::terminal;
  const Canvas canvas = terminal ? terminal_page() : page();
  const Sheet sheet = terminal ? for_terminal(whole) : whole;
  const Layout layout = lay_out(sheet, canvas);
  Writer w(canvas, layout);
  write_terminal(w, format);
  w.put("set multiplot\nunset key\nset samples 2\nset clip two\n");
  write_texts(w);
  for (std::size_t i = 0; i < sheet.panels.size(); ++i)
    write_panel(w, sheet.panels[i], layout.panels[i]);
  w.put("unset multiplot\n");
  return std::move(w.text);
}

}  // namespace ohmtilt::plots
