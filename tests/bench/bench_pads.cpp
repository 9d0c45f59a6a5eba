// The search for pads: all E96 L pads over four decades with the span on 480 points, the front, and
// 4000 random draws of each pad on it; and the T pads of E24 over three decades. numpy_pads.py does
// the first one combination at a time.
#include <benchmark/benchmark.h>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/design/pad_search.h>

namespace {

using namespace ohmtilt;

Earphone earphone() {
  return read_earphone(OHMTILT_SOURCE_DIR "/impedance-curves/two-way-armature.csv");
}

void search(benchmark::State& state, PadTopology topology, Series series, double high_ohm,
            double within_db) {
  PadSearchOptions options;
  options.topologies = {topology};
  options.values_ohm = preferred_values(series, 1, high_ohm);
  // Four decades of E96 are 384 values; the upper end would be one more.
  if (options.values_ohm.back() == high_ohm) options.values_ohm.pop_back();
  options.target = {10, within_db};
  PadSearch found;
  for (auto _ : state) {
    const PadSite site(earphone(), resistive_source(0.3), {});
    found = search_pads(site, options);
    benchmark::DoNotOptimize(found);
  }
  state.counters["combinations"] = found.searched;
  state.counters["front"] = double(found.candidates.size());
}

// Within 0.5 dB; and within 200 dB, so that every single combination gets its span and input.
void l_pads_e96(benchmark::State& state) { search(state, PadTopology::L, Series::E96, 1e4, 0.5); }
void l_pads_e96_all_spans(benchmark::State& state) {
  search(state, PadTopology::L, Series::E96, 1e4, 200);
}
void t_pads_e24(benchmark::State& state) { search(state, PadTopology::T, Series::E24, 1e3, 0.5); }
void pi_pads_e24(benchmark::State& state) { search(state, PadTopology::pi, Series::E24, 1e3, 0.5); }
void bridged_pads_e12(benchmark::State& state) {
  search(state, PadTopology::bridged_T, Series::E12, 1e3, 0.5);
}

BENCHMARK(l_pads_e96)->Unit(benchmark::kMillisecond);
BENCHMARK(l_pads_e96_all_spans)->Unit(benchmark::kMillisecond);
BENCHMARK(t_pads_e24)->Unit(benchmark::kMillisecond);
BENCHMARK(pi_pads_e24)->Unit(benchmark::kMillisecond);
BENCHMARK(bridged_pads_e12)->Unit(benchmark::kMillisecond);

}  // namespace
