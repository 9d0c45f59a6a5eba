// The search for pads: all E96 L pads over four decades with the span on 480 points, the front, and
// 4000 random draws of each pad on it; and the T pads of E24 over three decades. numpy_pads.py does
// the first one combination at a time.
#include <benchmark/benchmark.h>

#include <array>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/design/pad/pad_search.h>

namespace {

using namespace ohmtilt;

const Earphone& earphone() {
  static const Earphone read =
      read_earphone(OHMTILT_SOURCE_DIR "/impedance-curves/two-way-armature.csv");
  return read;
}

struct Case {
  PadTopology topology;
  Series series;
  double high_ohm;
  long draws = default_pad_draws().samples;
  Anchor anchor = AnchorFrequency{};
};

void search(benchmark::State& state, const Case& one) {
  PadSearchOptions options;
  options.topologies = {one.topology};
  options.values_ohm = preferred_values(one.series, 1, one.high_ohm);
  // Four decades of E96 are 384 values; the upper end would be one more.
  if (options.values_ohm.back() == one.high_ohm) options.values_ohm.pop_back();
  options.target = {10, 0.5};
  options.draws.samples = one.draws;
  PadSearch found;
  for (auto _ : state) {
    PadSiteOptions where;
    where.anchor = one.anchor;
    const PadSite site(earphone(), resistive_source(0.3), where);
    found = search_pads(site, options);
    benchmark::DoNotOptimize(found);
  }
  state.counters["combinations"] = found.searched;
  state.counters["front"] = double(found.candidates.size());
}

/// The span and the lowest input of every combination, in the tolerance or not: no front.
void every_span(benchmark::State& state) {
  auto values = preferred_values(Series::E96, 1, 1e4);
  values.pop_back();
  const PadSite site(earphone(), resistive_source(0.3), {});
  for (auto _ : state) {
    double sum = 0;
    for (const double series : values)
      for (const double shunt : values) {
        const auto pad = two_port(PadTopology::L, std::array{series, shunt});
        sum += site.attenuation_db(pad) + site.span_db(pad) + site.input_min_ohm(pad);
      }
    benchmark::DoNotOptimize(sum);
  }
}

void l_pads_e96(benchmark::State& state) { search(state, {PadTopology::L, Series::E96, 1e4}); }
void l_pads_e96_without_draws(benchmark::State& state) {
  search(state, {PadTopology::L, Series::E96, 1e4, 10});
}
void l_pads_e96_anchor_band(benchmark::State& state) {
  search(state, {PadTopology::L, Series::E96, 1e4, default_pad_draws().samples, AnchorBand{}});
}
void t_pads_e24(benchmark::State& state) { search(state, {PadTopology::T, Series::E24, 1e3}); }
void pi_pads_e24(benchmark::State& state) { search(state, {PadTopology::pi, Series::E24, 1e3}); }
void bridged_pads_e12(benchmark::State& state) {
  search(state, {PadTopology::bridged_T, Series::E12, 1e3});
}

BENCHMARK(every_span)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(l_pads_e96)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(l_pads_e96_without_draws)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();
BENCHMARK(l_pads_e96_anchor_band)
    ->Unit(benchmark::kMillisecond)
    ->MeasureProcessCPUTime()
    ->UseRealTime();
BENCHMARK(t_pads_e24)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(pi_pads_e24)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();
BENCHMARK(bridged_pads_e12)->Unit(benchmark::kMillisecond)->MeasureProcessCPUTime()->UseRealTime();

}  // namespace
