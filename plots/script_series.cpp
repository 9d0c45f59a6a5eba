#include <plots/script_writer.h>

#include <algorithm>
#include <array>

namespace ohmtilt::plots {
namespace {

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
using Row9 = std::array<double, 9>;

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
                 ? "using 1:2:3:4:5:6 with boxxyerror " + line_style(canvas, bars.series)
                 : fmt::format("using 1:2:3:4:5:6 with boxxyerror fc rgb '{}' fs solid 1 "
                               "border lc rgb '#ffffff' lw 1",
                               colour(bars.series)));
  }
}

void plot_cells(const Panel& panel, PlotCommand& plot) {
  if (panel.cells.empty()) return;
  const auto row = [&](Eigen::Index i) {
    const Cell& cell = panel.cells[static_cast<std::size_t>(i)];
    const int rgb = std::stoi(shade_colour(cell.shade).substr(1), nullptr, 16);
    return Row9{cell.x_low,       cell.y_low,  cell.x_low,        cell.x_high,
                cell.y_low,       cell.y_high, 1.0 * (rgb >> 16), 1.0 * ((rgb >> 8) & 255),
                1.0 * (rgb & 255)};
  };
  plot.add(static_cast<Eigen::Index>(panel.cells.size()), row,
           "using 1:2:3:4:5:6:(65536*$7+256*$8+$9) with boxxyerror lc rgb variable fs solid 1 "
           "border lc rgb '#ffffff'");
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
  for (const Points& points : panel.points) {
    const auto row = [&](Eigen::Index i) { return Row2{points.x[i], points.y[i]}; };
    if (!panel.bars.empty() && !canvas.terminal)
      plot.add(points.x.size(), row, "with points " + mark_halo_style(points.series));
    plot.add(points.x.size(), row, "with points " + mark_style(canvas, points.series));
  }
}

}  // namespace

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

}  // namespace ohmtilt::plots
