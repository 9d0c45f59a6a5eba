#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt {
namespace {

constexpr double alike_db = 0.01;    // of a span: far below what is heard
constexpr double alike_load = 0.01;  // of a load, relative: a resistor's own tolerance

std::string tenths(double value) { return number_text(std::round(value * 10) / 10); }
std::string hundredths(double value) { return number_text(std::round(value * 100) / 100); }

/// Of those indices, the pad of the fewest resistors; of as many, the nearest to the asked loss.
std::optional<std::size_t> simplest(const std::vector<PadCandidate>& candidates,
                                    const std::vector<std::size_t>& indices) {
  const auto cost = [&](std::size_t i) {
    return std::pair(resistor_count(candidates[i].pad.topology),
                     std::abs(candidates[i].attenuation_error_db));
  };
  const auto best = std::min_element(indices.begin(), indices.end(),
                                     [&](auto a, auto b) { return cost(a) < cost(b); });
  return best == indices.end() ? std::nullopt : std::optional(*best);
}

/// Of those indices, the ones whose cost is the lowest or as good as that.
template <class Cost>
std::vector<std::size_t> lowest(const std::vector<std::size_t>& indices, const Cost& cost,
                                double alike) {
  double least = INFINITY;
  for (const std::size_t i : indices) least = std::min(least, cost(i));
  std::vector<std::size_t> found;
  for (const std::size_t i : indices)
    if (cost(i) <= least + alike) found.push_back(i);
  return found;
}

}  // namespace

PadChoice recommended_pad(const std::vector<PadCandidate>& candidates,
                          const AmplifierNeeds& needs) {
  std::vector<std::size_t> front, gentle;  // gentle: what spares the amplifier
  for (std::size_t i = 0; i < candidates.size(); ++i) {
    const PadCandidate& one = candidates[i];
    if (!one.pareto) continue;
    front.push_back(i);
    if (one.input_min_ohm >= needs.load_min_ohm &&
        !(needs.max_ampere && one.largest_ampere > *needs.max_ampere))
      gentle.push_back(i);
  }
  if (front.empty()) return {};
  const std::string load = tenths(needs.load_min_ohm) + " ohm";
  if (!gentle.empty()) {
    const auto span = [&](std::size_t i) { return candidates[i].span_db; };
    const auto index = simplest(candidates, lowest(gentle, span, alike_db));
    const std::string current =
        needs.max_ampere ? " nor ask for more than its " + tenths(1000 * *needs.max_ampere) + " mA"
                         : "";
    return {index,
            "Recommended: smallest span (" + hundredths(span(*index)) +
                " dB) of all pads that do not load the amplifier more than the earphone alone (" +
                load + ")" + current +
                "; ties within 0.01 dB go to fewer resistors, then to the nearer attenuation."};
  }
  const auto load_cost = [&](std::size_t i) { return -std::log(candidates[i].input_min_ohm); };
  return {simplest(candidates, lowest(front, load_cost, alike_load)),
          "Recommended: it loads the amplifier least; none keeps its load above the " + load +
              " of the earphone alone" +
              (needs.max_ampere ? " and its current within the limit" : "") + "."};
}

}  // namespace ohmtilt
