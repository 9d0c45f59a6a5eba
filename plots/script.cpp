#include <plots/script.h>
#include <plots/script_writer.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt::plots {
namespace {

/// The first kind of window that this gnuplot has.
void write_window(Writer& w) {
  for (const char* name : {"qt", "wxt", "x11"})
    w.put(
        "if (strstrt(GPVAL_TERMINALS, ' {0} ')) {{ set terminal {0} size {1:.0f},{2:.0f} "
        "font 'sans-serif,12' noenhanced persist }} else {{ ",
        name, w.canvas.width, w.layout.height);
  w.put("print 'it has no windows here, install the package gnuplot-qt'; exit status 1 }} }} }}\n");
}

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
      // 100 units of the canvas are an inch, one is 0.72 point. The size of a font is in pixels of
      // 1/96 inch: 4/3 as large as points (measured with pdftotext -bbox).
      w.put(
          "set terminal pdfcairo size {:.4f},{:.4f} font 'sans-serif,12' fontscale 0.54 linewidth "
          "0.72 pointscale 0.72 "
          "noenhanced background '#ffffff'\n",
          width / 100, height / 100);
      break;
    case Format::terminal:
      w.put("set terminal dumb noenhanced mono nofeed size {:.0f},{:.0f}\n", width, height);
      break;
    case Format::window:
      write_window(w);
      break;
  }
}

void write_texts(Writer& w) {
  for (const PlacedText& text : w.layout.texts) {
    if (text.text.empty()) continue;
    w.put("set label {} at {} {}{} noenhanced front\n", gnuplot_literal(text.text),
          w.at(text.x, text.y), side_word(text.side), w.font(text.face));
  }
}

/// gnuplot reads a tick's text as a number format: its percent signs are doubled.
std::string without_format(const std::string& text) {
  std::string result;
  for (const char c : text) result += c == '%' ? std::string("%%") : std::string(1, c);
  return result;
}

/// Whether each tick of an x axis keeps its text beside its neighbours': the decades of a
/// logarithmic axis first, then whatever finds room between them.
std::vector<bool> texts_that_fit(const Axis& axis, const Canvas& canvas, const Box& plot) {
  struct Taken {
    double left, right;
  };
  std::vector<Taken> taken;
  std::vector<bool> kept(axis.ticks.size(), false);
  const auto take = [&](std::size_t i) {
    if (axis.ticks[i].text.empty()) return;
    const double half = canvas.text_width(axis.ticks[i].text, canvas.tick) / 2 + canvas.space / 2;
    const double at = plot.x(axis.fraction(axis.ticks[i].at));
    kept[i] = std::none_of(taken.begin(), taken.end(), [&](const Taken& one) {
      return at - half < one.right && one.left < at + half;
    });
    if (kept[i]) taken.push_back({at - half, at + half});
  };
  const auto is_decade = [&](double value) {
    return axis.scale == Scale::logarithmic &&
           std::abs(std::log10(value) - std::round(std::log10(value))) < 1e-9;
  };
  for (std::size_t i = 0; i < axis.ticks.size(); ++i)
    if (is_decade(axis.ticks[i].at)) take(i);
  for (std::size_t i = 0; i < axis.ticks.size(); ++i)
    if (!is_decade(axis.ticks[i].at)) take(i);
  return kept;
}

void write_axis(Writer& w, const Axis& axis, char name, const std::vector<bool>& texts) {
  w.put("set {}range [{:.10g}:{:.10g}]\n", name, axis.low, axis.high);
  w.put("{}set logscale {}\n", axis.scale == Scale::logarithmic ? "" : "un", name);
  w.put("set {}tics nomirror noenhanced{} scale {}{} (", name, w.canvas.terminal ? "" : " out",
        name == 'x' ? "0.5,0.25" : "0,0", w.font(w.canvas.tick));
  const char* between = "";
  for (std::size_t i = 0; i < axis.ticks.size(); ++i) {
    const Tick& tick = axis.ticks[i];
    const double room = axis.text_share * w.canvas.width - w.canvas.margin;
    const std::string text =
        texts[i] ? w.canvas.fitted(drawable(tick.text), w.canvas.tick, room) : "";
    w.put("{}{} {:.10g} {}", between, gnuplot_literal(without_format(text)), tick.at,
          tick.text.empty() ? 1 : 0);
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

void write_panel(Writer& w, const Panel& panel, const PlacedPanel& placed) {
  const Box& plot = placed.plot;
  w.put("set lmargin at screen {:.5f}\nset rmargin at screen {:.5f}\n", plot.left / w.canvas.width,
        plot.right / w.canvas.width);
  // A terminal has rows and no heights: the middle of a row is never rounded to the next one.
  const double into_row = w.canvas.terminal ? 0.5 : 0;
  w.put("set bmargin at screen {:.5f}\nset tmargin at screen {:.5f}\n",
        (plot.bottom + into_row) / w.layout.height, (plot.top - into_row) / w.layout.height);
  write_axis(w, panel.x, 'x',
             panel.shares_x ? std::vector<bool>(panel.x.ticks.size(), false)
                            : texts_that_fit(panel.x, w.canvas, plot));
  write_axis(w, panel.y, 'y', std::vector<bool>(panel.y.ticks.size(), true));
  write_grid(w, panel);
  write_decoration(w, panel);
  write_labels(w, placed);
  write_plot(w, panel);
  w.put("unset label\nunset arrow\nunset object\n");
}

Sheet for_terminal(Sheet sheet) {
  std::erase_if(sheet.panels, [](const Panel& panel) { return !panel.in_terminal; });
  if (!sheet.panels.empty()) sheet.panels.back().shares_x = false;
  return sheet;
}

/// Every stroke of one pen: its points, with an empty line after each stroke.
void write_strokes(Writer& w, const Drawing& drawing, Stroke::Pen pen, const std::string& name) {
  w.put("{} << EOD\n", name);
  for (const Stroke& stroke : drawing.strokes) {
    if (stroke.pen != pen) continue;
    for (const Spot& spot : stroke.points) w.put("{:.2f} {:.2f}\n", spot.x, spot.y);
    w.put("\n");
  }
  w.put("-100 -100\nEOD\n");  // out of sight, so that no block is empty
}

void write_spots(Writer& w, const std::vector<Spot>& spots, const std::string& name) {
  w.put("{} << EOD\n-100 -100\n", name);
  for (const Spot& spot : spots) w.put("{:.2f} {:.2f}\n", spot.x, spot.y);
  w.put("EOD\n");
}

void write_drawing_plot(Writer& w, const Drawing& drawing) {
  write_strokes(w, drawing, Stroke::Pen::wire, "$wires");
  write_strokes(w, drawing, Stroke::Pen::symbol, "$symbols");
  write_strokes(w, drawing, Stroke::Pen::bracket, "$brackets");
  write_spots(w, drawing.junctions, "$junctions");
  write_spots(w, drawing.terminals, "$terminals");
  w.put("plot $brackets with lines lc rgb '{}' lw 0.8", axis_colour);
  w.put(",$wires with lines lc rgb '{}' lw 1.3", text_colour);
  w.put(",$symbols with lines lc rgb '{}' lw 1.8", text_colour);
  w.put(
      ",$junctions with points pt 7 ps 0.5 lc rgb '{0}',$terminals with points pt 6 ps 0.8 lw 1.3 "
      "lc rgb '{0}'\n",
      text_colour);
}

}  // namespace

std::string script(const Drawing& drawing, Format format, const Canvas& canvas) {
  Layout layout;
  layout.height = drawing.height;
  layout.texts = drawing.texts;
  Writer w(canvas, layout);
  write_terminal(w, format);
  w.put("unset key\nunset border\nunset tics\n");
  w.put("set lmargin at screen 0\nset rmargin at screen 1\nset bmargin at screen 0\n");
  w.put("set tmargin at screen 1\nset xrange [0:{:.2f}]\nset yrange [0:{:.2f}]\n", drawing.width,
        drawing.height);
  write_texts(w);
  write_drawing_plot(w, drawing);
  return std::move(w.text);
}

std::string script(const Sheet& whole, Format format, const Canvas& for_files) {
  const bool terminal = format == Format::terminal;
  const Canvas canvas = terminal ? terminal_page() : for_files;
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
