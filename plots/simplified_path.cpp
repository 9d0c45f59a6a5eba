#include <fmt/format.h>
#include <plots/simplified_path.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>
#include <sstream>
#include <vector>

namespace ohmtilt::plots {
namespace {

constexpr std::size_t short_path = 12;  // points

struct PathPoint {
  double x = 0, y = 0;
  bool starts = false;  ///< M: a new line begins here
};

/// "M1.5,2" or "L1.5,2".
std::optional<PathPoint> point_of(const std::string& word) {
  if (word.size() < 4 || (word[0] != 'M' && word[0] != 'L')) return std::nullopt;
  PathPoint point;
  point.starts = word[0] == 'M';
  const char* const end = word.data() + word.size();
  const auto first = std::from_chars(word.data() + 1, end, point.x);
  if (first.ec != std::errc() || first.ptr == end || *first.ptr != ',') return std::nullopt;
  const auto second = std::from_chars(first.ptr + 1, end, point.y);
  if (second.ec != std::errc() || second.ptr != end) return std::nullopt;
  return point;
}

/// How far a point is from the line through two others, or from the first where they are one.
double distance(const PathPoint& p, const PathPoint& a, const PathPoint& b) {
  const double dx = b.x - a.x, dy = b.y - a.y, length = std::hypot(dx, dy);
  if (length == 0) return std::hypot(p.x - a.x, p.y - a.y);
  return std::abs(dx * (p.y - a.y) - dy * (p.x - a.x)) / length;
}

/// Marks what stays between two points that do.
void keep_between(const std::vector<PathPoint>& points, std::size_t first, std::size_t last,
                  double tolerance, std::vector<bool>& kept) {
  std::size_t furthest = first;
  double largest = tolerance;
  for (std::size_t i = first + 1; i < last; ++i) {
    const double away = distance(points[i], points[first], points[last]);
    if (away > largest) {
      largest = away;
      furthest = i;
    }
  }
  if (furthest == first) return;
  kept[furthest] = true;
  keep_between(points, first, furthest, tolerance, kept);
  keep_between(points, furthest, last, tolerance, kept);
}

/// Nothing where the path is of another kind. closed: whether it ends in z.
std::optional<std::vector<PathPoint>> points_of(const std::string& data, bool& closed) {
  std::vector<PathPoint> points;
  std::istringstream stream(data);
  for (std::string word; stream >> word;) {
    if (closed) return std::nullopt;
    closed = word == "z" || word == "Z";
    if (closed) continue;
    const auto point = point_of(word);
    if (!point || (points.empty() && !point->starts)) return std::nullopt;
    points.push_back(*point);
  }
  return points;
}

std::string one_line_of(const std::string& data) {
  std::string text;
  std::istringstream stream(data);
  for (std::string word; stream >> word;) text += (text.empty() ? "" : " ") + word;
  return text;
}

/// With at most one decimal, and none that says nothing.
std::string short_decimal(double value) {
  const double rounded = std::round(10 * value) / 10;
  return fmt::format("{:g}", rounded == 0 ? 0.0 : rounded);
}

}  // namespace

std::string simplified_path(const std::string& data, double tolerance) {
  bool closed = false;
  const auto points = points_of(data, closed);
  if (!points || points->size() < short_path) return one_line_of(data);
  std::vector<bool> kept(points->size(), false);
  for (std::size_t first = 0; first < points->size();) {
    std::size_t last = first;
    while (last + 1 < points->size() && !(*points)[last + 1].starts) ++last;
    kept[first] = kept[last] = true;
    keep_between(*points, first, last, tolerance, kept);
    first = last + 1;
  }
  std::string text;
  for (std::size_t i = 0; i < points->size(); ++i)
    if (kept[i])
      text += ((*points)[i].starts ? "M" : "L") + short_decimal((*points)[i].x) + "," +
              short_decimal((*points)[i].y);
  return text + (closed ? "z" : "");
}

}  // namespace ohmtilt::plots
