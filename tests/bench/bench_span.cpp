// The span of one earphone (480 points) against 100,000 real source resistances: the library's way
// beside the bare loop that one would write by hand over the same arrays, compiled with the same
// flags and run in the same program.
#include <benchmark/benchmark.h>

#include <cmath>
#include <vector>

#include <ohmtilt/analysis/deviation/span.h>

namespace {

constexpr int resistances = 100'000;
constexpr Eigen::Index points = 480;

ohmtilt::ComplexArray load() {
  const ohmtilt::Array hz = ohmtilt::log_grid({20, 20000}, points);
  const ohmtilt::Complex j(0, 1);
  ohmtilt::ComplexArray z(points);
  for (Eigen::Index i = 0; i < points; ++i)
    z[i] = 12.0 + j * 2e-4 * hz[i] + 30.0 / (1.0 + 3.0 * j * (hz[i] / 2500 - 2500 / hz[i]));
  return z;
}

double resistance(int i) { return 0.1 + 0.001 * i; }

void span_by_library(benchmark::State& state) {
  const ohmtilt::SpanOverResistance span(load(), {ohmtilt::ComplexArray::Zero(points), {}});
  for (auto _ : state) {
    double sum = 0;
    for (int i = 0; i < resistances; ++i) sum += span.span_db(resistance(i));
    benchmark::DoNotOptimize(sum);
  }
  state.counters["per_point"] = benchmark::Counter(
      double(resistances) * points,
      benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

/// |Z + R|^2 / |Z|^2 = (re^2 + im^2 + 2 re R + R^2) / |Z|^2, smallest and largest, one logarithm a
/// span.
#if defined(__x86_64__) && defined(__linux__)
__attribute__((target_clones("avx512f", "avx2", "default")))
#endif
double
bare_span_db(const double* re, const double* norm, const double* inverse, double r) {
  double smallest = INFINITY;
  double largest = 0;
  for (Eigen::Index i = 0; i < points; ++i) {
    const double value = (norm[i] + r * (2 * re[i] + r)) * inverse[i];
    smallest = value < smallest ? value : smallest;
    largest = value > largest ? value : largest;
  }
  return 10 * std::log10(largest / smallest);
}

void span_by_bare_loop(benchmark::State& state) {
  const ohmtilt::ComplexArray z = load();
  std::vector<double> re(points);
  std::vector<double> norm(points);
  std::vector<double> inverse(points);
  for (std::size_t i = 0; i < re.size(); ++i) {
    re[i] = z[Eigen::Index(i)].real();
    norm[i] = std::norm(z[Eigen::Index(i)]);
    inverse[i] = 1 / norm[i];
  }
  for (auto _ : state) {
    double sum = 0;
    for (int i = 0; i < resistances; ++i)
      sum += bare_span_db(re.data(), norm.data(), inverse.data(), resistance(i));
    benchmark::DoNotOptimize(sum);
  }
  state.counters["per_point"] = benchmark::Counter(
      double(resistances) * points,
      benchmark::Counter::kIsIterationInvariantRate | benchmark::Counter::kInvert);
}

BENCHMARK(span_by_bare_loop)->Unit(benchmark::kMillisecond);
BENCHMARK(span_by_library)->Unit(benchmark::kMillisecond);

}  // namespace
