#include <ohmtilt/design/resistive_two_port.h>

#include <array>
#include <numeric>

namespace ohmtilt {

std::span<const int> resistors_per_value(PadTopology topology) {
  static constexpr std::array one{1, 1, 1, 1};
  static constexpr std::array legs_of_h{2, 1, 2};
  static constexpr std::array legs_of_o{1, 2, 1};
  if (topology == PadTopology::H) return legs_of_h;
  if (topology == PadTopology::O) return legs_of_o;
  return std::span(one).first(pad_keys(topology).size());
}

int resistor_count(PadTopology topology) {
  const auto counts = resistors_per_value(topology);
  return std::accumulate(counts.begin(), counts.end(), 0);
}

}  // namespace ohmtilt
