// 100,000 Monte Carlo draws of an L pad into a measured curve on 480 points: deviation percentiles
// and channel difference. The goal is under 1 s on two cores. And 10,000 draws of an earphone's
// circuit, where every draw is solved at every frequency.
#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <string>

namespace {

using namespace ohmtilt;

const std::string folder = std::string(OHMTILT_SOURCE_DIR) + "/impedance-curves/";

TolerancedComparison pad_into_curve() {
  const Earphone earphone = read_earphone(folder + "two-way-armature.csv");
  const DeviationGrid grid = deviation_grid({}, 480, AnchorFrequency{}, earphone.impedance.range());
  return {grid, earphone.impedance.at(grid.all_hz()), std::nullopt, resistive_source(0.3),
          thevenin_source(read_chain(folder + "attenuator-engaged.chain.toml").value)};
}

double peak_megabytes() {
  rusage usage{};
  ::getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

void pad_tolerance(benchmark::State& state) {
  const TolerancedComparison comparison = pad_into_curve();
  ToleranceOptions options;
  options.samples = static_cast<long>(state.range(0));
  for (auto _ : state) {
    auto found = deviation_tolerance(comparison, options);
    benchmark::DoNotOptimize(found.deviation_db.p05.data());
  }
  state.counters["peak_MB"] = peak_megabytes();
}
BENCHMARK(pad_tolerance)
    ->Arg(10000)
    ->Arg(100000)
    ->UseRealTime()
    ->MeasureProcessCPUTime()
    ->Unit(benchmark::kMillisecond);

void circuit_draws(benchmark::State& state) {
  const Circuit circuit = read_circuit(folder + "two-way-armature.circuit.toml").value;
  const Array hz = log_grid({}, 480);
  ToleranceOptions options;
  options.samples = static_cast<long>(state.range(0));
  for (auto _ : state) {
    auto found = circuit_tolerance(circuit, hz, {}, options);
    benchmark::DoNotOptimize(found.impedance_ohm.p05.data());
  }
  state.counters["peak_MB"] = peak_megabytes();
}
BENCHMARK(circuit_draws)
    ->Arg(1000)
    ->UseRealTime()
    ->MeasureProcessCPUTime()
    ->Unit(benchmark::kMillisecond);

}  // namespace
