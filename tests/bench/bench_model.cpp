// How fast a curve of 480 points is inspected and fitted.
#include <benchmark/benchmark.h>
#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/rational_fit.h>

#include <filesystem>
#include <string>

namespace {

using namespace ohmtilt;

constexpr const char* demos[] = {
    "planar",        "single-dynamic",          "two-way-armature",
    "five-armature", "dynamic-armature-hybrid", "dynamic-piezo-hybrid"};

ImpedanceCurve demo(benchmark::State& state) {
  const std::string name = demos[state.range(0)];
  state.SetLabel(name);
  return read_impedance(std::filesystem::path(OHMTILT_SOURCE_DIR) / "impedance-curves" /
                        (name + ".csv"))
      .value;
}

void inspect_curve(benchmark::State& state) {
  const ImpedanceCurve curve = demo(state);
  for (auto _ : state) benchmark::DoNotOptimize(inspect(curve).uncertainty_db);
}
BENCHMARK(inspect_curve)->DenseRange(0, 5)->Unit(benchmark::kMillisecond);

void fit_circuit(benchmark::State& state) {
  const ImpedanceCurve curve = demo(state);
  double error = 0;
  for (auto _ : state) error = fit_passive_model(curve).rms_error_percent;
  state.counters["rms_percent"] = error;
}
BENCHMARK(fit_circuit)->DenseRange(0, 5)->Unit(benchmark::kMillisecond);

void fit_foster(benchmark::State& state) {
  const ImpedanceCurve curve = demo(state);
  PassiveFitOptions options;
  options.most_branches = 1;
  double error = 0;
  for (auto _ : state) error = fit_passive_model(curve, options).rms_error_percent;
  state.counters["rms_percent"] = error;
}
BENCHMARK(fit_foster)->DenseRange(0, 5)->Unit(benchmark::kMillisecond);

void fit_rational(benchmark::State& state) {
  const ImpedanceCurve curve = demo(state);
  double error = 0;
  for (auto _ : state) error = fit_rational_model(curve).rms_error_percent;
  state.counters["rms_percent"] = error;
}
BENCHMARK(fit_rational)->DenseRange(0, 5)->Unit(benchmark::kMillisecond);

}  // namespace
