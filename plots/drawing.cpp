#include <plots/drawing.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace ohmtilt::plots {
namespace {

using Side = Note::Side;
using Pen = Stroke::Pen;
using Symbol = SchematicPart::Symbol;

constexpr double conductors_apart = 92;
constexpr double half_symbol = 17;  ///< half the length of a symbol
constexpr double half_breadth = 7;
constexpr double half_plate = 11;   ///< of a capacitor
constexpr double bridge_rise = 46;  ///< of the bridging arm over the live conductor
constexpr double bridge_inset = 6;  ///< of its ends
constexpr double tap_rise = 24;     ///< of a tap's terminal over the live conductor
constexpr double end_room = 26;     ///< for the letters where rows are joined

/// A rigid map of a symbol's own axis: along it, and to its left.
struct Frame {
  Spot middle, along;
  Spot at(double forward, double left) const {
    return {middle.x + forward * along.x - left * along.y,
            middle.y + forward * along.y + left * along.x};
  }
};

/// Draws a schematic row by row. Heights count upwards from the first row's live conductor and are
/// moved to the sheet at the end.
class Painter {
 public:
  Painter(const Canvas& canvas, Drawing& drawing) : canvas_(canvas), drawing_(drawing) {}

  void begin_row(double live_y, double start) {
    live_ = live_y;
    back_ = live_y - conductors_apart;
    x_ = start;
  }
  double x() const { return x_; }

  /// Two ends with a letter, where a row goes on in another one.
  void join(const std::string& letter, Side side) {
    const double sign = side == Side::right ? -1 : 1;
    for (const double y : {live_, back_}) {
      wire({{x_, y}, {x_ + sign * 8, y}});
      text(x_ + sign * 11, y, side == Side::right ? Side::right : Side::left,
           letter + (y == live_ ? "" : "'"), canvas_.remark, end_room);
    }
  }

  void group(const SchematicGroup& group) {
    const double start = x_;
    if (group.bridge) feed();
    for (const SchematicCell& one : group.cells) cell(one);
    if (group.bridge) feed();
    if (group.bridge) bridge(*group.bridge, start + bridge_inset, x_ - bridge_inset);
    bracket(group.label, start, x_);
  }

  double width(const SchematicGroup& group) const {
    double sum = group.bridge ? 4 * bridge_inset : 0;
    for (const SchematicCell& one : group.cells) sum += width(one);
    return sum;
  }

 private:
  double value_width(const std::string& value) const {
    return std::min(canvas_.text_width(drawable(value), canvas_.label), 120.0);
  }

  /// Of an upright part, from its axis to the end of its text.
  double beside_width(const SchematicPart& part) const {
    return value_width(part.value) + 10 +
           (part.symbol == Symbol::capacitor ? half_plate : half_breadth);
  }

  double width(const SchematicCell& cell) const {
    switch (cell.kind) {
      case SchematicCell::Kind::parts: {
        double room = cell.live || cell.back ? 2 * half_symbol + 28 : 20;
        if (cell.live) room = std::max(room, value_width(cell.live->value) + 14);
        if (cell.back) room = std::max(room, value_width(cell.back->value) + 14);
        if (cell.across) room += beside_width(*cell.across);
        return room;
      }
      case SchematicCell::Kind::source:
        return 48;
      case SchematicCell::Kind::open_ends:
        return 64;
      case SchematicCell::Kind::transformer:
        return 84;
      case SchematicCell::Kind::potentiometer:
        return 70 + value_width(cell.text);
      case SchematicCell::Kind::box:
        return 148;
      case SchematicCell::Kind::earphone:
        return 84;
      case SchematicCell::Kind::tap:
        return 44;
      case SchematicCell::Kind::ground_end:
        return 66 + value_width(cell.text);
    }
    return 0;
  }

  // ---- strokes ----

  void stroke(Pen pen, std::vector<Spot> points) {
    drawing_.strokes.push_back({pen, std::move(points)});
  }
  void wire(std::vector<Spot> points) { stroke(Pen::wire, std::move(points)); }
  void text(double x, double y, Side side, const std::string& what, const Face& face, double room) {
    drawing_.texts.push_back({x, y, side, canvas_.fitted(drawable(what), face, room), face});
  }

  void arc(Pen pen, Spot centre, double radius, double from_deg, double to_deg) {
    std::vector<Spot> points;
    for (int i = 0; i <= 24; ++i) {
      const double angle = (from_deg + (to_deg - from_deg) * i / 24) * std::numbers::pi / 180;
      points.push_back({centre.x + radius * std::cos(angle), centre.y + radius * std::sin(angle)});
    }
    stroke(pen, std::move(points));
  }

  void rectangle(const Frame& frame) {
    stroke(Pen::symbol,
           {frame.at(-half_symbol, -half_breadth), frame.at(half_symbol, -half_breadth),
            frame.at(half_symbol, half_breadth), frame.at(-half_symbol, half_breadth),
            frame.at(-half_symbol, -half_breadth), frame.at(0, -half_breadth)});
  }

  /// Four half circles to the left of the axis.
  void coil(const Frame& frame) {
    constexpr double radius = half_symbol / 4;
    std::vector<Spot> points;
    for (int turn = 0; turn < 4; ++turn)
      for (int i = 0; i <= 12; ++i) {
        const double angle = std::numbers::pi * (1 - i / 12.0);
        points.push_back(frame.at(-half_symbol + radius * (2 * turn + 1) + radius * std::cos(angle),
                                  radius * 1.3 * std::sin(angle)));
      }
    stroke(Pen::symbol, std::move(points));
  }

  void plates(const Frame& frame) {
    constexpr double half_gap = 3;
    for (const double forward : {-half_gap, half_gap})
      stroke(Pen::symbol, {frame.at(forward, -half_plate), frame.at(forward, half_plate)});
    wire({frame.at(-half_symbol, 0), frame.at(-half_gap, 0)});
    wire({frame.at(half_gap, 0), frame.at(half_symbol, 0)});
  }

  void symbol(Symbol which, const Frame& frame) {
    switch (which) {
      case Symbol::resistor:
        return rectangle(frame);
      case Symbol::inductor:
        return coil(frame);
      case Symbol::capacitor:
        return plates(frame);
      case Symbol::measured:
        rectangle(frame);
        return text(frame.middle.x, frame.middle.y, Side::centre, "Z", canvas_.remark, 30);
      case Symbol::wire:
        return wire({frame.at(-half_symbol, 0), frame.at(half_symbol, 0)});
      case Symbol::gap:
        drawing_.terminals.push_back(frame.at(-half_symbol, 0));
        drawing_.terminals.push_back(frame.at(half_symbol, 0));
        return;
    }
  }

  /// A part in the conductor at height y, from x to x_end.
  void in_line(const std::optional<SchematicPart>& part, double y, double x, double x_end) {
    if (!part) return wire({{x, y}, {x_end, y}});
    const Frame frame{{(x + x_end) / 2, y}, {1, 0}};
    wire({{x, y}, frame.at(-half_symbol, 0)});
    symbol(part->symbol, frame);
    wire({frame.at(half_symbol, 0), {x_end, y}});
    const double clear = part->symbol == Symbol::capacitor ? 21 : 18;
    const double above = y == back_ ? -clear : clear;
    text(frame.middle.x, y + above, Side::centre, part->value, canvas_.label, x_end - x - 4);
  }

  void across(const SchematicPart& part, double x, double x_end) {
    const Frame frame{{x, (live_ + back_) / 2}, {0, 1}};
    wire({{x, back_}, frame.at(-half_symbol, 0)});
    symbol(part.symbol, frame);
    wire({frame.at(half_symbol, 0), {x, live_}});
    drawing_.junctions.push_back({x, live_});
    drawing_.junctions.push_back({x, back_});
    const double beside = part.symbol == Symbol::capacitor ? half_plate : half_breadth;
    text(x + beside + 7, frame.middle.y, Side::left, part.value, canvas_.label,
         x_end - x - beside - 2);
  }

  /// Room for the ends of a bridging arm.
  void feed() {
    through(x_, x_ + 2 * bridge_inset);
    x_ += 2 * bridge_inset;
  }

  void through(double x, double x_end) {
    wire({{x, live_}, {x_end, live_}});
    wire({{x, back_}, {x_end, back_}});
  }

  // ---- cells ----

  void cell(const SchematicCell& one) {
    const double start = x_;
    x_ += width(one);
    switch (one.kind) {
      case SchematicCell::Kind::parts:
        return parts(one, start, x_);
      case SchematicCell::Kind::source:
        return source(start, x_);
      case SchematicCell::Kind::open_ends:
        return open_ends(start, x_);
      case SchematicCell::Kind::transformer:
        return transformer(one, start, x_);
      case SchematicCell::Kind::potentiometer:
        return potentiometer(one, start, x_);
      case SchematicCell::Kind::box:
        return box(one, start, x_);
      case SchematicCell::Kind::earphone:
        return earphone(one, start, x_);
      case SchematicCell::Kind::tap:
        return tap(one, start, x_);
      case SchematicCell::Kind::ground_end:
        return ground_end(one, start, x_);
    }
  }

  void parts(const SchematicCell& one, double start, double end) {
    double middle = end;
    if (one.across) {
      middle = end - beside_width(*one.across);
      through(middle, end);
      across(*one.across, middle, end);
    }
    in_line(one.live, live_, start, middle);
    in_line(one.back, back_, start, middle);
  }

  void source(double start, double end) {
    constexpr double radius = 15;
    const double x = start + radius + 2, y = (live_ + back_) / 2;
    arc(Pen::symbol, {x, y}, radius, 0, 360);
    std::vector<Spot> sine;
    for (int i = -12; i <= 12; ++i)
      sine.push_back({x + i * 0.7, y + 5 * std::sin(i * std::numbers::pi / 12)});
    stroke(Pen::symbol, std::move(sine));
    wire({{x, y + radius}, {x, live_}, {end, live_}});
    wire({{x, y - radius}, {x, back_}, {end, back_}});
  }

  void open_ends(double start, double end) {
    const bool first = drawing_.strokes.empty();
    const double x = first ? start + 14 : end - 14;
    for (const double y : {live_, back_}) {
      drawing_.terminals.push_back({x, y});
      wire(first ? std::vector<Spot>{{x + 3.5, y}, {end, y}}
                 : std::vector<Spot>{{start, y}, {x - 3.5, y}});
    }
  }

  void transformer(const SchematicCell& one, double start, double end) {
    const double middle = (start + end) / 2, y = (live_ + back_) / 2;
    for (const double sign : {-1.0, 1.0}) {
      const double x = middle + sign * 12, outer = sign < 0 ? start : end;
      const Frame frame{{x, y}, {0, -sign}};  // bulges face each other
      coil({frame.middle, {0, sign < 0 ? -1.0 : 1.0}});
      wire({{outer, live_}, {x, live_}, {x, y + half_symbol}});
      wire({{outer, back_}, {x, back_}, {x, y - half_symbol}});
    }
    text(middle, live_ + 18, Side::centre, one.text, canvas_.label, end - start - 4);
  }

  void potentiometer(const SchematicCell& one, double start, double end) {
    const double x = start + 24, y = (live_ + back_) / 2, wiper = x + 30;
    const Frame frame{{x, y}, {0, 1}};
    wire({{start, live_}, {x, live_}, frame.at(half_symbol, 0)});
    rectangle(frame);
    wire({frame.at(-half_symbol, 0), {x, back_}});
    wire({{start, back_}, {end, back_}});
    drawing_.junctions.push_back({x, back_});
    wire({{x + half_breadth + 1, y}, {wiper, y}, {wiper, live_}, {end, live_}});
    stroke(
        Pen::symbol,
        {{x + half_breadth + 8, y + 4}, {x + half_breadth + 1, y}, {x + half_breadth + 8, y - 4}});
    text(wiper + 7, y, Side::left, one.text, canvas_.label, end - wiper - 9);
  }

  void box(const SchematicCell& one, double start, double end) {
    const double left = start + 12, right = end - 12, top = live_ + 12, bottom = back_ - 12;
    stroke(Pen::symbol,
           {{left, bottom}, {right, bottom}, {right, top}, {left, top}, {left, bottom}});
    through(start, left);
    through(right, end);
    const auto lines = canvas_.lines(drawable(one.text), canvas_.label, right - left - 12, 4);
    double y =
        (live_ + back_) / 2 + canvas_.label.line * (static_cast<double>(lines.size()) - 1) / 2;
    for (const auto& line : lines) {
      text((left + right) / 2, y, Side::centre, line, canvas_.label, right - left - 8);
      y -= canvas_.label.line;
    }
  }

  void earphone(const SchematicCell& one, double start, double end) {
    const double x = end - 24, y = (live_ + back_) / 2, terminal = start + 14;
    const Frame frame{{x, y}, {0, 1}};
    for (const double height : {live_, back_}) {
      drawing_.terminals.push_back({terminal, height});
      wire({{start, height}, {terminal - 3.5, height}});
    }
    wire({{terminal + 3.5, live_}, {x, live_}, frame.at(half_symbol, 0)});
    wire({{terminal + 3.5, back_}, {x, back_}, frame.at(-half_symbol, 0)});
    rectangle(frame);
    text(x + half_breadth + 7, y, Side::left, one.text, canvas_.label, 20);
  }

  void tap(const SchematicCell& one, double start, double end) {
    const double x = (start + end) / 2, y = live_ + tap_rise;
    through(start, end);
    wire({{x, live_}, {x, y - 3.5}});
    drawing_.junctions.push_back({x, live_});
    drawing_.terminals.push_back({x, y});
    text(x, y + 14, Side::centre, one.text, canvas_.label, 100);
  }

  void ground_end(const SchematicCell& one, double start, double end) {
    const Frame frame{{start + 10, (live_ + back_) / 2}, {0, 1}};
    const double x = start + 52;
    wire({{start, live_}, {frame.middle.x, live_}, frame.at(half_symbol, 0)});
    symbol(one.across->symbol, frame);
    wire({frame.at(-half_symbol, 0), {frame.middle.x, back_}});
    wire({{start, back_}, {x - 3.5, back_}});
    drawing_.junctions.push_back({frame.middle.x, back_});
    drawing_.terminals.push_back({x, back_});
    text(frame.middle.x + half_breadth + 7, frame.middle.y, Side::left, one.across->value,
         canvas_.label, end - frame.middle.x - half_breadth - 7);
    text(x + 10, back_, Side::left, one.text, canvas_.label, end - x - 12);
  }

  void bridge(const SchematicPart& part, double start, double end) {
    const double y = live_ + bridge_rise;
    wire({{start, live_}, {start, y}});
    in_line(part, y, start, end);
    wire({{end, y}, {end, live_}});
    drawing_.junctions.push_back({start, live_});
    drawing_.junctions.push_back({end, live_});
  }

  void bracket(const std::string& label, double start, double end) {
    const double y = back_ - 34, left = start + 4, right = end - 4;
    stroke(Pen::bracket, {{left, y + 5}, {left, y}, {right, y}, {right, y + 5}});
    double line_y = y - 11;
    for (const auto& line : canvas_.lines(drawable(label), canvas_.remark, right - left, 3)) {
      text((left + right) / 2, line_y, Side::centre, line, canvas_.remark, right - left + 4);
      line_y -= 13;
    }
  }

  const Canvas& canvas_;
  Drawing& drawing_;
  double live_ = 0, back_ = 0, x_ = 0;
};

/// Which groups stand in which row: the first index of each row, and the end.
std::vector<std::size_t> row_starts(const Schematic& schematic, const Painter& painter,
                                    double room) {
  std::vector<std::size_t> starts{0};
  double used = 0;
  for (std::size_t i = 0; i < schematic.groups.size(); ++i) {
    const double width = painter.width(schematic.groups[i]);
    if (used > 0 && used + width > room) {
      starts.push_back(i);
      used = 0;
    }
    used += width;
  }
  starts.push_back(schematic.groups.size());
  return starts;
}

double row_width(const Schematic& schematic, const Painter& painter) {
  double sum = 0;
  for (const auto& group : schematic.groups) sum += painter.width(group);
  return sum;
}

/// "a" to "z", then "a1", "b1" ...
std::string row_letter(std::size_t row) {
  const std::string letter(1, static_cast<char>('a' + row % 26));
  return row < 26 ? letter : letter + std::to_string(row / 26);
}

double add_title(const Schematic& schematic, const Canvas& canvas, Drawing& drawing) {
  double down = canvas.margin;
  if (schematic.title.empty()) return down;
  for (const auto& line :
       canvas.lines(drawable(schematic.title), canvas.title, canvas.width - 2 * canvas.margin, 2)) {
    drawing.texts.push_back(
        {canvas.margin, -down - canvas.title.line / 2, Side::left, line, canvas.title});
    down += canvas.title.line;
  }
  return down + canvas.gap;
}

void move_up(Drawing& drawing) {
  for (auto& stroke : drawing.strokes)
    for (auto& spot : stroke.points) spot.y += drawing.height;
  for (auto* spots : {&drawing.junctions, &drawing.terminals})
    for (auto& spot : *spots) spot.y += drawing.height;
  for (auto& text : drawing.texts) text.y += drawing.height;
}

/// What stands over the live conductor of a row.
double rise(const Schematic& schematic, std::size_t from, std::size_t to) {
  double highest = 0;
  for (std::size_t i = from; i < to; ++i) {
    const SchematicGroup& group = schematic.groups[i];
    if (group.bridge) highest = std::max(highest, bridge_rise);
    if (std::any_of(group.cells.begin(), group.cells.end(), [](const SchematicCell& cell) {
          return cell.kind == SchematicCell::Kind::tap;
        }))
      highest = std::max(highest, tap_rise);
  }
  return highest;
}

}  // namespace

Drawing drawing(const Schematic& schematic, const Canvas& canvas) {
  Drawing result;
  result.width = canvas.width;
  double down = add_title(schematic, canvas, result);
  Painter painter(canvas, result);
  const double room = canvas.width - 2 * canvas.margin - 2 * end_room;
  const auto starts = row_starts(schematic, painter, room);
  for (std::size_t row = 0; row + 1 < starts.size(); ++row) {
    down += 34 + rise(schematic, starts[row], starts[row + 1]);
    painter.begin_row(-down, starts.size() > 2
                                 ? canvas.margin + end_room
                                 : (canvas.width - row_width(schematic, painter)) / 2);
    if (row > 0) painter.join(row_letter(row - 1), Side::right);
    for (std::size_t i = starts[row]; i < starts[row + 1]; ++i) painter.group(schematic.groups[i]);
    if (row + 2 < starts.size()) painter.join(row_letter(row), Side::left);
    down += conductors_apart + 34 + 3 * 13 + canvas.gap;
  }
  if (schematic.caption.empty()) {
    result.height = std::ceil(down);
    move_up(result);
    return result;
  }
  result.texts.push_back(
      {canvas.margin, -down - canvas.caption.line / 2, Side::left,
       canvas.fitted(drawable(schematic.caption), canvas.caption, canvas.width - 2 * canvas.margin),
       canvas.caption});
  result.height = std::ceil(down + canvas.caption.line + canvas.margin);
  move_up(result);
  return result;
}

}  // namespace ohmtilt::plots
