// The solver against 50-digit arithmetic (Boost.Multiprecision) on random passive ladders and
// meshes.
#include <boost/multiprecision/cpp_bin_float.hpp>
#include <boost/multiprecision/cpp_complex.hpp>
#include <random>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

using Big = boost::multiprecision::cpp_complex_50;
using BigReal = boost::multiprecision::cpp_bin_float_50;

struct Edge {
  int a, b;
  char kind;  // R, L, C
  double value;
};

// L and C parts carry a small series resistance of this fraction of an ohm, as real ones do.
constexpr double series_ohm = 0.01;

Big admittance(const Edge& edge, const BigReal& omega) {
  if (edge.kind == 'R') return Big(1) / Big(BigReal(edge.value));
  const BigReal reactance =
      edge.kind == 'L' ? BigReal(omega * edge.value) : BigReal(-1 / (omega * edge.value));
  return Big(1) / Big(BigReal(series_ohm), reactance);
}

// Z of node 1 against node 0, by elimination with row pivoting.
Big reference_impedance(const std::vector<Edge>& edges, int nodes, double hz) {
  const BigReal omega = 2 * boost::math::constants::pi<BigReal>() * BigReal(hz);
  std::vector<std::vector<Big>> m(nodes, std::vector<Big>(nodes + 1));
  for (const Edge& edge : edges) {
    const Big y = admittance(edge, omega);
    if (edge.a > 0) m[edge.a - 1][edge.a - 1] += y;
    if (edge.b > 0) m[edge.b - 1][edge.b - 1] += y;
    if (edge.a > 0 && edge.b > 0) {
      m[edge.a - 1][edge.b - 1] -= y;
      m[edge.b - 1][edge.a - 1] -= y;
    }
  }
  m[0][nodes] = 1;
  for (int k = nodes - 1; k > 0; --k) {  // node 1 last: its pivot is 1 / Z
    int best = k;
    for (int r = 0; r < k; ++r)
      if (norm(m[r][k]) > norm(m[best][k])) best = r;
    std::swap(m[k], m[best]);
    for (int r = 0; r < k; ++r) {
      const Big factor = m[r][k] / m[k][k];
      for (int c = 0; c < k; ++c) m[r][c] -= factor * m[k][c];
      m[r][nodes] -= factor * m[k][nodes];
    }
  }
  return m[0][nodes] / m[0][0];
}

Circuit circuit_of_edges(const std::vector<Edge>& edges) {
  std::vector<Part> parts;
  const auto node = [](int k) { return k == 0 ? "0" : k == 1 ? "in" : "n" + std::to_string(k); };
  for (const Edge& e : edges) {
    const std::string name = "P" + std::to_string(parts.size());
    if (e.kind == 'R') parts.push_back(resistor(name, node(e.a), node(e.b), e.value));
    if (e.kind == 'L') parts.push_back(inductor(name, node(e.a), node(e.b), e.value, series_ohm));
    if (e.kind == 'C') parts.push_back(capacitor(name, node(e.a), node(e.b), e.value, series_ohm));
  }
  return circuit_of(std::move(parts));
}

class Dice {
 public:
  explicit Dice(unsigned seed) : random_(seed) {}
  int below(int n) { return static_cast<int>(random_() % static_cast<unsigned>(n)); }
  Edge edge(int a, int b) {
    const char kind = "RLC"[below(3)];
    const double u = static_cast<double>(random_()) / 4294967296.0;
    const double decades = 4 * u;
    const double low = kind == 'R' ? 1 : kind == 'L' ? 1e-6 : 1e-9;
    return {a, b, kind, low * std::pow(10.0, decades)};
  }

 private:
  std::mt19937 random_;
};

std::vector<Edge> ladder(Dice& dice, int nodes) {
  std::vector<Edge> edges;
  for (int k = 1; k <= nodes; ++k) {
    if (k < nodes) edges.push_back(dice.edge(k, k + 1));
    edges.push_back(dice.edge(k, 0));
  }
  return edges;
}

std::vector<Edge> mesh(Dice& dice, int nodes) {
  std::vector<Edge> edges;
  for (int k = 1; k <= nodes; ++k) edges.push_back(dice.edge(k, dice.below(k)));
  for (int k = 0; k < 2 * nodes; ++k) {
    const int a = dice.below(nodes + 1), b = dice.below(nodes + 1);
    if (a != b) edges.push_back(dice.edge(a, b));
  }
  return edges;
}

double worst_error(const std::vector<Edge>& edges, int nodes) {
  const Array hz = log_grid({20, 20000}, 7);
  const ComplexArray z = driving_point(circuit_of_edges(edges), hz);
  double worst = 0;
  for (Eigen::Index f = 0; f < hz.size(); ++f) {
    const Big wanted = reference_impedance(edges, nodes, hz[f]);
    const Big found{BigReal(z[f].real()), BigReal(z[f].imag())};
    const BigReal error = sqrt(BigReal(norm(Big(found - wanted)) / norm(wanted)));
    worst = std::max(worst, static_cast<double>(error));
  }
  return worst;
}

TEST(FiftyDigits, RandomLaddersAgreeTo1e10) {
  double worst = 0;
  for (const int nodes : {1, 2, 5, 12, 20, 40})
    for (unsigned seed = 1; seed <= 6; ++seed) {
      Dice dice(seed);
      worst = std::max(worst, worst_error(ladder(dice, nodes), nodes));
    }
  EXPECT_LT(worst, 1e-10);
  RecordProperty("worst", std::to_string(worst * 1e16) + "e-16");
}

TEST(FiftyDigits, RandomMeshesAgreeTo1e10) {
  double worst = 0;
  for (const int nodes : {2, 5, 12, 20, 40})
    for (unsigned seed = 1; seed <= 6; ++seed) {
      Dice dice(100 + seed);
      worst = std::max(worst, worst_error(mesh(dice, nodes), nodes));
    }
  EXPECT_LT(worst, 1e-10);
  RecordProperty("worst", std::to_string(worst * 1e16) + "e-16");
}

}  // namespace
}  // namespace ohmtilt::test
