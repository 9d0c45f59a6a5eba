#include <ohmtilt/analysis/damping/mode_table.h>
#include <ohmtilt/analysis/damping/mode_tracks.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

namespace ohmtilt {
namespace {

using Eigen::Index;

RationalModel with_series_ohm(RationalModel model, double ohm) {
  model.constant += ohm;
  return model;
}

void insert_grid(std::set<double>& all, double low, double high, double a_decade) {
  const Array grid =
      log_grid({low, high}, 2 + static_cast<Index>(a_decade * std::log10(high / low)));
  all.insert(grid.begin(), grid.end());
}

/// Walked through besides between and the sources: from well below |Z| to well above, closely where
/// modes move, which is within ten times |Z|.
Array resistances(const RationalModel& impedance, const std::vector<DampingSource>& sources,
                  const Array& between) {
  const Array size = evaluate(impedance, log_grid({20, 20000}, 60)).abs();
  const double least = std::max(size.minCoeff(), 1e-6), most = std::min(size.maxCoeff(), 1e8);
  std::set<double> all(between.begin(), between.end());
  insert_grid(all, std::min(1e-2, 1e-3 * least), least / 10, 4);
  insert_grid(all, least / 10, 10 * most, 16);
  insert_grid(all, 10 * most, std::max(1e5, 1e4 * most), 4);
  for (const auto& source : sources)
    if (source.is_resistive() && source.output.constant > 0) all.insert(source.output.constant);
  const std::vector<double> list(all.begin(), all.end());
  return Eigen::Map<const Array>(list.data(), static_cast<Index>(list.size()));
}

std::vector<Complex> row(const Eigen::ArrayXXcd& tracks, Index i) {
  std::vector<Complex> values;
  for (Index j = 0; j < tracks.cols(); ++j) values.push_back(tracks(i, j));
  return values;
}

/// The zeros behind a reactive source, as it grows from nothing to what it is.
std::vector<Complex> behind(const RationalModel& impedance, const RationalModel& source,
                            const std::vector<Complex>& start) {
  const auto grown = [&](double part) { return sum(impedance, scaled(source, part)); };
  const Eigen::ArrayXXcd tracks = track_zeros(grown, log_grid({1e-8, 1}, 160), start);
  return row(tracks, tracks.rows() - 1);
}

}  // namespace

Index row_of(const ModeTable& table, double ohm) {
  const auto* begin = table.source_ohm.data();
  return std::lower_bound(begin, begin + table.source_ohm.size(), ohm) - begin;
}

ModeTable mode_table(const RationalModel& impedance, const std::vector<DampingSource>& sources,
                     const Array& between) {
  ModeTable table;
  table.source_ohm = resistances(impedance, sources, between);
  const std::vector<Complex> shorted = zeros(impedance);
  table.tracks = track_zeros([&](double ohm) { return with_series_ohm(impedance, ohm); },
                             table.source_ohm, shorted);
  const auto columns = static_cast<std::size_t>(table.tracks.cols());
  table.at.push_back(shorted);
  for (const auto& source : sources) {
    if (!source.is_resistive()) {
      // Modes that the source brings stand behind the earphone's own.
      auto found = behind(impedance, source.output, shorted);
      if (found.size() > shorted.size())
        found.insert(found.begin() + static_cast<long>(shorted.size()), columns - shorted.size(),
                     at_infinity);
      table.at.push_back(std::move(found));
    } else if (source.output.constant > 0) {
      table.at.push_back(row(table.tracks, row_of(table, source.output.constant)));
    } else {
      table.at.push_back(shorted);
    }
  }
  table.at.push_back(continued(row(table.tracks, table.tracks.rows() - 1), poles(impedance)));
  std::size_t widest = columns;
  for (const auto& values : table.at) widest = std::max(widest, values.size());
  for (auto& values : table.at) values.resize(widest, at_infinity);
  return table;
}

double stated_hz(const ModeTable& table, const ModePair& pair) {
  if (const auto mode = mode_in(table.at[1], pair)) return mode->hz;
  for (const auto& values : table.at)
    if (const auto mode = mode_in(values, pair)) return mode->hz;
  return 0;
}

std::vector<ModePair> mode_pairs(const ModeTable& table, const Band& band) {
  std::set<std::pair<Index, Index>> found;
  for (const auto& values : table.at)
    for (std::size_t i = 0; i < values.size(); ++i) {
      if (!(values[i].imag() > 0)) continue;
      const auto twin = std::find(values.begin(), values.end(), std::conj(values[i]));
      if (!band.contains(mode(values[i]).hz) || twin == values.end()) continue;
      const auto a = static_cast<Index>(i), b = static_cast<Index>(twin - values.begin());
      found.emplace(std::min(a, b), std::max(a, b));
    }
  std::vector<ModePair> pairs;
  pairs.reserve(found.size());
  for (const auto& [first, second] : found) pairs.push_back({first, second});
  std::stable_sort(pairs.begin(), pairs.end(), [&](const ModePair& a, const ModePair& b) {
    return stated_hz(table, a) < stated_hz(table, b);
  });
  return pairs;
}

std::optional<PairMode> mode_of(Complex s1, Complex s2) {
  if (!std::isfinite(s1.real()) || !std::isfinite(s2.real())) return std::nullopt;
  const bool real = s1.imag() == 0 && s2.imag() == 0;
  if (!real && s1 != std::conj(s2)) return std::nullopt;
  if (real && !(s1.real() * s2.real() > 0)) return std::nullopt;
  return pair_mode(s1, s2);
}

std::optional<PairMode> mode_in(const std::vector<Complex>& values, const ModePair& pair) {
  return mode_of(values[static_cast<std::size_t>(pair.first)],
                 values[static_cast<std::size_t>(pair.second)]);
}

std::optional<double> q_change_percent(const std::optional<PairMode>& before,
                                       const std::optional<PairMode>& after) {
  if (!before || !after || !std::isfinite(before->q) || !std::isfinite(after->q))
    return std::nullopt;
  return 100 * (after->q / before->q - 1);
}

std::optional<ModeChange> largest_change(const std::vector<ModePair>& pairs,
                                         const std::vector<Complex>& before,
                                         const std::vector<Complex>& after, double least_q) {
  std::optional<ModeChange> found;
  for (std::size_t m = 0; m < pairs.size(); ++m) {
    const auto first = mode_in(before, pairs[m]);
    const auto second = mode_in(after, pairs[m]);
    const auto percent = q_change_percent(first, second);
    if (!percent || std::max(first->q, second->q) < least_q) continue;
    if (std::abs(*percent) > (found ? std::abs(found->percent) : 0)) found = {m, *percent};
  }
  return found;
}

}  // namespace ohmtilt
