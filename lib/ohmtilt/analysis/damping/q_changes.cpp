#include <ohmtilt/analysis/damping/mode_refinement.h>
#include <ohmtilt/analysis/damping/q_changes.h>

namespace ohmtilt {

std::vector<std::optional<double>> largest_q_changes_percent(
    const DampingEarphone& earphone, const std::vector<DampingSource>& sources, const Band& band) {
  ModeTable table = mode_table(earphone.impedance, sources, Array(0));
  const auto pairs = ModeRefinement(earphone, sources).refine(table, band);
  std::vector<std::optional<double>> percents;
  for (std::size_t i = 1; i < sources.size(); ++i) {
    // Row 0 of the table is 0 ohm; the sources follow in their order.
    auto change = largest_change(pairs, table.at[1], table.at[i + 1], least_peaked_q);
    if (!change) change = largest_change(pairs, table.at[1], table.at[i + 1], 0);
    percents.push_back(pairs.empty() ? std::nullopt
                                     : std::optional(change ? change->percent : 0.0));
  }
  return percents;
}

}  // namespace ohmtilt
