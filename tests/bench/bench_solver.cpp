// How fast circuits are solved. numpy_solver.py runs this program and does the same job beside it.
#include <benchmark/benchmark.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>

#include <filesystem>
#include <string>

namespace {

using namespace ohmtilt;

Circuit twelve_nodes() {
  return read_circuit(std::filesystem::path(OHMTILT_SOURCE_DIR) /
                      "tests/bench/twelve-node.circuit.toml")
      .value;
}

// Within 5 %, the same in numpy_solver.py.
double factor(int variation, int value) {
  return 1 + 0.05 * (((variation * 7919 + value * 104729) % 1000) / 500.0 - 1);
}

double varied_sum(const Circuit& circuit, NodalSystem& system, int variation) {
  int number = 0;
  for (std::size_t p = 0; p < circuit.parts().size(); ++p)
    for (std::size_t k = 0; k < circuit.parts()[p].values.size(); ++k, ++number)
      system.set_value(
          {p, k}, circuit.parts()[p].values[k].value *
                      (circuit.parts()[p].values[k].key == "n" ? 1 : factor(variation, number)));
  return driving_point(system, circuit.port()).abs().sum();
}

// 1,000 variations of all values of a 12-node earphone on 480 frequencies.
void thousand_variations(benchmark::State& state) {
  const Circuit circuit = twelve_nodes();
  const Array hz = log_grid({20, 20000}, 480);
  double sum = 0;
  for (auto _ : state) {
    NodalSystem system(circuit, hz);
    sum = 0;
    for (int variation = 0; variation < 1000; ++variation)
      sum += varied_sum(circuit, system, variation);
  }
  state.counters["sum_ohm"] = sum;
}
BENCHMARK(thousand_variations)->Unit(benchmark::kMillisecond);

Circuit ladder(int nodes) {
  CircuitDraft draft;
  draft.reference = "0";
  draft.ports = {{"in", "n1", "0"}};
  for (int k = 1; k <= nodes; ++k) {
    const std::string here = "n" + std::to_string(k), next = "n" + std::to_string(k + 1);
    if (k < nodes) draft.parts.push_back(inductor("L" + std::to_string(k), here, next, 1e-4, 0.2));
    draft.parts.push_back(k % 2 ? resistor("R" + std::to_string(k), here, "0", 200.0 + k)
                                : capacitor("C" + std::to_string(k), here, "0", 1e-7));
  }
  return Circuit(std::move(draft));
}

void analyse_ladder(benchmark::State& state) {
  const Circuit circuit = ladder(static_cast<int>(state.range(0)));
  const Array hz = log_grid({20, 20000}, 480);
  for (auto _ : state) benchmark::DoNotOptimize(NodalSystem(circuit, hz));
}
BENCHMARK(analyse_ladder)
    ->Arg(1)
    ->Arg(10)
    ->Arg(50)
    ->Arg(100)
    ->Arg(200)
    ->Unit(benchmark::kMillisecond);

void solve_ladder(benchmark::State& state) {
  const Circuit circuit = ladder(static_cast<int>(state.range(0)));
  const NodalSystem system(circuit, log_grid({20, 20000}, state.range(1)));
  for (auto _ : state) benchmark::DoNotOptimize(driving_point(system, circuit.port()));
}
BENCHMARK(solve_ladder)
    ->Args({1, 480})
    ->Args({10, 480})
    ->Args({50, 480})
    ->Args({100, 480})
    ->Args({200, 480})
    ->Args({50, 48})
    ->Args({50, 4800})
    ->Unit(benchmark::kMillisecond);

}  // namespace
