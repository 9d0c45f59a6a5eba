#include <ohmtilt/base/simd.h>
#include <ohmtilt/design/insertion/resistive_two_port.h>

#include <array>
#include <numeric>

namespace ohmtilt {
namespace {

/// arms: how many values the topology has. The compiler makes one loop of each topology.
template <PadTopology topology, std::size_t arms>
inline __attribute__((always_inline)) void fill(const TwoPortBlock::Numbers* ohm,
                                                TwoPortBlock& result) {
  for (std::size_t i = 0; i < TwoPortBlock::size; ++i) {
    std::array<double, arms> values;
    for (std::size_t arm = 0; arm < arms; ++arm) values[arm] = ohm[arm][i];
    const ResistiveTwoPort one = two_port(topology, values);
    result.a[i] = one.a;
    result.b_ohm[i] = one.b_ohm;
    result.c_siemens[i] = one.c_siemens;
    result.d[i] = one.d;
  }
}

OHMTILT_WIDE
void fill_any(PadTopology topology, const TwoPortBlock::Numbers* ohm, TwoPortBlock& result) {
  switch (topology) {
    case PadTopology::series:
      return fill<PadTopology::series, 1>(ohm, result);
    case PadTopology::L:
      return fill<PadTopology::L, 2>(ohm, result);
    case PadTopology::T:
      return fill<PadTopology::T, 3>(ohm, result);
    case PadTopology::pi:
      return fill<PadTopology::pi, 3>(ohm, result);
    case PadTopology::H:
      return fill<PadTopology::H, 3>(ohm, result);
    case PadTopology::O:
      return fill<PadTopology::O, 3>(ohm, result);
    case PadTopology::bridged_T:
      return fill<PadTopology::bridged_T, 4>(ohm, result);
    case PadTopology::U:
      return fill<PadTopology::U, 2>(ohm, result);
  }
}

}  // namespace

void two_ports(PadTopology topology, std::span<const TwoPortBlock::Numbers> ohm,
               TwoPortBlock& result) {
  fill_any(topology, ohm.data(), result);
}

std::span<const int> resistors_per_value(PadTopology topology) {
  static constexpr std::array one{1, 1, 1, 1};
  static constexpr std::array legs_of_h{2, 1, 2};
  static constexpr std::array legs_of_o{1, 2, 1};
  static constexpr std::array legs_of_u{2, 1};
  if (topology == PadTopology::H) return legs_of_h;
  if (topology == PadTopology::O) return legs_of_o;
  if (topology == PadTopology::U) return legs_of_u;
  return std::span(one).first(pad_keys(topology).size());
}

int resistor_count(PadTopology topology) {
  const auto counts = resistors_per_value(topology);
  return std::accumulate(counts.begin(), counts.end(), 0);
}

}  // namespace ohmtilt
