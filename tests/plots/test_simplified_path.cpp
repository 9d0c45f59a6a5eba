// Paths with fewer points, against the distance of every point from what is drawn.
#include <plots/simplified_path.h>

#include <gtest/gtest.h>

#include <cmath>
#include <random>
#include <sstream>
#include <vector>

namespace ohmtilt::plots {
namespace {

struct Spot {
  double x, y;
};

std::vector<Spot> spots(std::string data) {
  for (char& c : data)
    if (c == 'M' || c == 'L' || c == ',') c = ' ';
  std::vector<Spot> result;
  std::istringstream stream(data);
  for (Spot spot{}; stream >> spot.x >> spot.y;) result.push_back(spot);
  return result;
}

double to_segment(const Spot& p, const Spot& a, const Spot& b) {
  const double dx = b.x - a.x, dy = b.y - a.y, square = dx * dx + dy * dy;
  const double t =
      square > 0 ? std::min(1.0, std::max(0.0, ((p.x - a.x) * dx + (p.y - a.y) * dy) / square)) : 0;
  return std::hypot(p.x - a.x - t * dx, p.y - a.y - t * dy);
}

// 200 random curves that run to the right, as all of ours do.
TEST(SimplifiedPath, StaysByEveryPoint) {
  std::mt19937 random(7);
  std::normal_distribution<double> step(0, 0.8);
  std::size_t before = 0, after = 0;
  for (int curve = 0; curve < 200; ++curve) {
    std::string data;
    std::vector<Spot> given;
    double y = 100, slope = 0;
    for (int i = 0; i < 120; ++i) {
      slope = 0.9 * slope + 0.2 * step(random);
      y += slope;
      given.push_back({40 + 1.18 * i, y});
      data += (i == 0 ? "M" : " L") + std::to_string(given.back().x) + "," + std::to_string(y);
    }
    const auto drawn = spots(simplified_path(data));
    before += given.size();
    after += drawn.size();
    for (const Spot& spot : given) {
      double nearest = 1e9;
      for (std::size_t i = 1; i < drawn.size(); ++i)
        nearest = std::min(nearest, to_segment(spot, drawn[i - 1], drawn[i]));
      EXPECT_LE(nearest, 0.12 + std::hypot(0.05, 0.05));  // the tolerance, and one decimal
    }
  }
  EXPECT_LT(after, before / 2);
}

TEST(SimplifiedPath, KeepsGapsEndsAndOtherPaths) {
  std::string data = "M0,0";
  for (int i = 1; i < 20; ++i) data += " L" + std::to_string(i) + ",0";
  EXPECT_EQ(simplified_path(data + " M30,5 L40,5"), "M0,0L19,0M30,5L40,5");
  EXPECT_EQ(simplified_path(data + " L19,7 z"), "M0,0L19,0L19,7z");
  EXPECT_EQ(simplified_path("M1,2\n\t\tL3.25,4"), "M1,2 L3.25,4");
  const std::string curve = data + " C1,2 3,4 5,6";
  EXPECT_EQ(simplified_path(curve), curve);
}

}  // namespace
}  // namespace ohmtilt::plots
