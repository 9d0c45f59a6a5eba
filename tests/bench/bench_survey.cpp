// A survey of 1,000 curves (480 points) against 100 sources, the curves in memory: all that comes
// after reading. NumPy does the same spans in the same run (numpy_survey.py, which prints its own
// line), from the same formula and curves of the same kind.
#include <benchmark/benchmark.h>
#include <tbb/global_control.h>

#include <cmath>
#include <cstdlib>
#include <random>
#include <string>
#include <vector>

#include <ohmtilt/analysis/survey.h>

namespace {

using namespace ohmtilt;

constexpr int curves = 1000;
constexpr int sources = 100;

/// One resonance of random place, height and width, 480 points from 20 Hz to 20 kHz.
std::vector<Earphone> earphones() {
  std::mt19937 random(1);
  std::uniform_real_distribution<double> part(0, 1);
  const Array hz = log_grid({20, 20000}, 480);
  std::vector<Earphone> list;
  for (int i = 0; i < curves; ++i) {
    const double dc = 4 + 30 * part(random), peak = 40 * part(random), q = 1 + 3 * part(random);
    const double hz0 = 100 * std::pow(100, part(random));
    const ComplexArray z =
        dc + peak / (1.0 + Complex(0, q) * (hz / hz0 - hz0 / hz).cast<Complex>());
    list.push_back(earphone_from_curve(ImpedanceCurve(
        {"curve " + std::to_string(i), "", "", ""}, hz, z.abs(), z.arg() * (180 / std::acos(-1)))));
  }
  return list;
}

std::vector<TheveninSource> resistances() {
  std::vector<TheveninSource> list;
  for (int i = 1; i <= sources; ++i) list.push_back(resistive_source(1.2 * i));
  return list;
}

/// state.range(0): threads.
void survey_by_library(benchmark::State& state) {
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism,
                                  static_cast<std::size_t>(state.range(0)));
  const auto list = earphones();
  const auto to = resistances();
  for (auto _ : state) {
    const Survey found = survey(
        list.size(), [&](std::size_t i) { return list[i]; }, resistive_source(0), to);
    benchmark::DoNotOptimize(found.ranking.data());
  }
}

/// The same through deviation(), one call a cell, with its curves and ERB averages.
void every_deviation(benchmark::State& state) {
  const auto list = earphones();
  const auto to = resistances();
  const DeviationGrid grid = deviation_grid({}, 480, AnchorFrequency{}, {});
  const Array hz = grid.all_hz();
  const TheveninSamples from = resistive_source(0).at(hz);
  for (auto _ : state) {
    double sum = 0;
    for (const auto& earphone : list) {
      const ComplexArray load_ohm = earphone.impedance.at(hz);
      for (const auto& source : to) sum += deviation(grid, load_ohm, from, source.at(hz)).span_db;
    }
    benchmark::DoNotOptimize(sum);
  }
}

void numpy(benchmark::State& state) {
  const std::string command = "/usr/bin/python3 " OHMTILT_SOURCE_DIR "/tests/bench/numpy_survey.py";
  for (auto _ : state)
    if (std::system(command.c_str()) != 0) state.SkipWithError("NumPy is not here");
}

BENCHMARK(survey_by_library)->Arg(1)->Arg(2)->Unit(benchmark::kMillisecond)->UseRealTime();
BENCHMARK(every_deviation)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();
BENCHMARK(numpy)->Unit(benchmark::kMillisecond)->Iterations(1)->UseRealTime();

}  // namespace
