// Filters fitted to the inverse of a deviation of 480 points: what the command does between reading
// and printing.
#include <benchmark/benchmark.h>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/design/equalizer/equalizer.h>
#include <string>

namespace {

constexpr const char* earphones[] = {"single-dynamic",          "two-way-armature",
                                     "five-armature",           "planar",
                                     "dynamic-armature-hybrid", "dynamic-piezo-hybrid"};

void equalize_demo(benchmark::State& state) {
  const std::string name = earphones[state.range(0)];
  const auto earphone =
      ohmtilt::read_earphone(OHMTILT_SOURCE_DIR "/impedance-curves/" + name + ".csv");
  const auto compared = ohmtilt::compare_sources(earphone, ohmtilt::resistive_source(0),
                                                 {ohmtilt::resistive_source(6)}, {});
  ohmtilt::EqualizerOptions options;
  options.filters = static_cast<int>(state.range(1));
  ohmtilt::Equalizer result;
  for (auto _ : state)
    result =
        ohmtilt::equalize(compared.grid.grid_hz, compared.cases[0].deviation.deviation_db, options);
  state.SetLabel(name);
  state.counters["filters"] = static_cast<double>(result.filters.size());
  state.counters["rms_db"] = result.residual.rms_db;
  state.counters["span_db"] = result.residual.span_db;
  state.counters["lead_level_db"] = result.lead_level_db;
}

/// More bends than filters: nothing stops the search early.
void equalize_rippled(benchmark::State& state) {
  const ohmtilt::Array hz = ohmtilt::log_grid({20, 20000}, 480);
  const ohmtilt::Array ln_f = hz.log();
  const ohmtilt::Array db = 3 * (ln_f * 13).sin() + 2 * (ln_f * 7.3 + 1).sin();
  ohmtilt::EqualizerOptions options;
  options.filters = static_cast<int>(state.range(0));
  ohmtilt::Equalizer result;
  for (auto _ : state) result = ohmtilt::equalize(hz, db, options);
  state.counters["filters"] = static_cast<double>(result.filters.size());
  state.counters["rms_db"] = result.residual.rms_db;
}

BENCHMARK(equalize_rippled)->Arg(5)->Arg(10)->Arg(20)->Unit(benchmark::kMillisecond);
BENCHMARK(equalize_demo)
    ->ArgsProduct({benchmark::CreateDenseRange(0, 5, 1), {3, 5, 10}})
    ->Unit(benchmark::kMillisecond);

}  // namespace
