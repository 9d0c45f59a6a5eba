#include <plots/script_writer.h>

#include <cmath>

namespace ohmtilt::plots {
namespace {

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
  w.put("set label {} at first {:.10g},first {:.10g} {}{} noenhanced front\n",
        gnuplot_literal(text), x, y, side_word(side), w.font(face));
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

/// A thin line from the end of a line at the panel's edge to its label, where the label had to
/// move.
void write_leader(Writer& w, const PlacedLabel& label, double right, double to) {
  const bool at_edge = right - label.x_end < w.canvas.space;
  const bool moved = std::abs(label.y - label.y_end) > w.canvas.label.line / 6;
  if (label.sample == PlacedLabel::Sample::line && at_edge && moved)
    w.put("set arrow from {} to {} nohead front lc rgb '{}' lw 0.8 dt solid\n",
          w.at(label.x_end, label.y_end), w.at(to, label.y), colour(label.series));
}

void write_label(Writer& w, const Box& plot, const PlacedLabel& label) {
  const double sample_at = plot.right + 1.5 * w.canvas.space;
  const double text_at = plot.right + 2 * w.canvas.space + w.canvas.sample;
  if (!w.canvas.terminal) {
    write_leader(w, label, plot.right, sample_at);
    write_sample(w, label, sample_at, text_at - w.canvas.space);
  }
  double y = label.y + w.canvas.label.line * static_cast<double>(label.lines.size() - 1) / 2;
  for (const std::string& line : label.lines) {
    w.put("set label {} at {} left{} noenhanced front\n", gnuplot_literal(line), w.at(text_at, y),
          w.font(w.canvas.label));
    y -= w.canvas.label.line;
  }
}

}  // namespace

void write_decoration(Writer& w, const Panel& panel) {
  for (const Strip& strip : panel.strips) write_strip(w, strip);
  // Level rules first: gnuplot's SVG carries a dash over to the next solid arrow.
  for (const auto direction : {Rule::Direction::level, Rule::Direction::upright})
    for (const Rule& rule : panel.rules)
      if (rule.direction == direction) write_rule(w, rule);
  write_notes(w, panel);
}

void write_labels(Writer& w, const PlacedPanel& placed) {
  for (const PlacedLabel& label : placed.labels) write_label(w, placed.plot, label);
}

}  // namespace ohmtilt::plots
