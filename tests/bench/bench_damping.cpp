// The modes of a 12th-order earphone over 200 source resistances, and a whole answer on a circuit.
#include <benchmark/benchmark.h>
#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/analysis/damping/mode_table.h>

#include <filesystem>

namespace {

using namespace ohmtilt;

// Six invented resonances over a coil.
RationalModel twelfth_order() {
  RationalModel model;
  model.constant = 12;
  model.proportional = 2e-5;
  for (const double hz : {90.0, 400.0, 1300.0, 2800.0, 5500.0, 9000.0}) {
    const double w = 2 * 3.141592653589793 * hz, q = 1.5, ohm = 10;
    const Complex pole = w * Complex(-1 / (2 * q), std::sqrt(1 - 1 / (4 * q * q)));
    // ohm w/q s / (s^2 + w/q s + w^2) as a pair of partial fractions.
    model.pairs.push_back({pole, ohm * w / q * pole / (pole - std::conj(pole))});
  }
  return model;
}

void locus_of_200(benchmark::State& state) {
  const RationalModel model = twelfth_order();
  const Array ohm = log_grid({0.1, 1000}, 200);
  for (auto _ : state) benchmark::DoNotOptimize(mode_table(model, {}, ohm));
}
BENCHMARK(locus_of_200)->Unit(benchmark::kMillisecond);

void answer_from_circuit(benchmark::State& state) {
  const auto file =
      std::filesystem::path(OHMTILT_SOURCE_DIR) / "impedance-curves" / "five-armature.circuit.toml";
  for (auto _ : state) {
    const auto earphone = damping_earphone(read_earphone(file));
    const std::vector<DampingSource> sources{damping_source(resistive_source(0.3)),
                                             damping_source(resistive_source(6))};
    benchmark::DoNotOptimize(damping(earphone, sources));
  }
}
BENCHMARK(answer_from_circuit)->Unit(benchmark::kMillisecond);

}  // namespace
