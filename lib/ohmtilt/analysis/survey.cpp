
#include <ohmtilt/analysis/damping/damping_system.h>
#include <ohmtilt/analysis/damping/q_changes.h>
#include <ohmtilt/analysis/survey.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/parallel_progress.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <numeric>

namespace ohmtilt {
namespace {

/// The sources on one grid.
struct SampledSources {
  DeviationGrid grid;
  TheveninSamples from;
  std::vector<TheveninSamples> to;
};

/// All sources, sampled on the grid of each earphone. Most earphones of a folder share one grid, so
/// the first few are kept; which ones is no matter for the results.
class SourceSampler {
 public:
  SourceSampler(const TheveninSource& from, const std::vector<TheveninSource>& to,
                const SurveyOptions& options)
      : from_(from), to_(to), options_(options), known_(from.output.range()) {
    for (const auto& source : to) known_ = overlap(known_, source.output.range());
  }

  /// The grid over what an earphone's data and all sources cover.
  DeviationGrid grid(const Band& earphone) const {
    return deviation_grid(options_.band, options_.points, options_.anchor,
                          overlap(known_, earphone));
  }
  const Band& known() const { return known_; }

  std::shared_ptr<const SampledSources> on(const Band& earphone) {
    DeviationGrid own = grid(earphone);
    const std::pair key(own.grid_hz[0], own.grid_hz[own.grid_hz.size() - 1]);
    {
      const std::lock_guard lock(mutex_);
      const auto found = kept_.find(key);
      if (found != kept_.end()) return found->second;
    }
    auto sampled = std::make_shared<const SampledSources>(sample(std::move(own)));
    const std::lock_guard lock(mutex_);
    if (kept_.size() < most_kept) kept_.emplace(key, sampled);
    return sampled;
  }

 private:
  static constexpr std::size_t most_kept = 8;

  SampledSources sample(DeviationGrid grid) const {
    const Array hz = grid.all_hz();
    SampledSources sampled{std::move(grid), from_.at(hz), {}};
    for (const auto& source : to_) sampled.to.push_back(source.at(hz));
    return sampled;
  }

  const TheveninSource& from_;
  const std::vector<TheveninSource>& to_;
  const SurveyOptions& options_;
  Band known_;
  std::mutex mutex_;
  std::map<std::pair<double, double>, std::shared_ptr<const SampledSources>> kept_;
};

/// The first source and the others, as the analysis of modes takes them; empty unless it is asked.
std::vector<DampingSource> damping_sources(const TheveninSource& from,
                                           const std::vector<TheveninSource>& to,
                                           const SurveyOptions& options) {
  if (!options.q_changes) return {};
  std::vector<DampingSource> sources{damping_source(from)};
  for (const auto& source : to) sources.push_back(damping_source(source));
  return sources;
}

void add_q_changes(SurveyRow& row, const Earphone& earphone,
                   const std::vector<DampingSource>& sources, const Band& band) {
  if (sources.empty()) return;
  try {
    const auto percents =
        largest_q_changes_percent(damping_earphone(earphone, band), sources, band);
    for (std::size_t i = 0; i < percents.size(); ++i) row.cells[i].q_change_percent = percents[i];
  } catch (const InputError& error) {  // its deviations hold all the same
    row.warnings.push_back(std::string("its resonances are not known: ") + error.what());
  }
}

SurveyRow surveyed(const Earphone& earphone, SourceSampler& sampler, double from_ohm,
                   double limit_db) {
  const auto sources = sampler.on(earphone.impedance.range());
  const DeviationGrid& grid = sources->grid;
  const ComplexArray load_ohm = earphone.impedance.at(grid.all_hz());
  const DeviationSummaries summaries(grid, load_ohm, sources->from);
  SurveyRow row;
  row.title = earphone.title;
  row.label = earphone.label;
  row.phase = earphone.phase;
  row.known = {grid.grid_hz[0], grid.grid_hz[grid.grid_hz.size() - 1]};
  row.warnings = earphone.warnings;
  for (const auto& to : sources->to) row.cells.push_back({summaries.against(to), std::nullopt});
  const Eigen::Index points = grid.grid_hz.size();
  row.largest_source = largest_source(
      SpanOverResistance(load_ohm.head(points), head(sources->from, points)), from_ohm, limit_db);
  return row;
}

void name_sources(Survey& result, const TheveninSource& from, const std::vector<TheveninSource>& to,
                  double hz) {
  const auto named = [hz](const TheveninSource& source) {
    return SurveyedSource{source.label, std::abs(source.output.at(hz)), source.file.empty(),
                          source.short_label};
  };
  result.from = named(from);
  append_new(result.warnings, from.warnings);
  for (const auto& source : to) {
    result.sources.push_back(named(source));
    append_new(result.warnings, source.warnings);
  }
}

/// With the earphone's name, of a source that does not give the bias which it needs, or does.
std::vector<std::string> needed_bias_cautions(const Earphone& earphone, const TheveninSource& from,
                                              const std::vector<TheveninSource>& to) {
  std::vector<TheveninSource> sources{from};
  sources.insert(sources.end(), to.begin(), to.end());
  return bias_cautions(sources, earphone);
}

void rank(Survey& result) {
  std::vector<double> mean_db;
  for (const auto& row : result.rows) mean_db.push_back(row.mean_span_db());
  result.ranking.resize(result.rows.size());
  std::iota(result.ranking.begin(), result.ranking.end(), std::size_t{0});
  std::stable_sort(result.ranking.begin(), result.ranking.end(),
                   [&](std::size_t a, std::size_t b) { return mean_db[a] > mean_db[b]; });
}

}  // namespace

double SurveyRow::mean_span_db() const {
  double sum = 0;
  for (const auto& cell : cells) sum += cell.deviation.span_db();
  return cells.empty() ? 0 : sum / static_cast<double>(cells.size());
}

double SurveyRow::largest_span_db() const {
  double largest = 0;
  for (const auto& cell : cells) largest = std::max(largest, cell.deviation.span_db());
  return largest;
}

Survey survey(std::size_t earphones, const EarphoneAt& earphone, const TheveninSource& from,
              const std::vector<TheveninSource>& to, const SurveyOptions& options) {
  if (to.empty()) throw InputError("there is no source to compare with", "give at least one");
  if (!(options.limit_db > 0) || !std::isfinite(options.limit_db))
    throw InputError(number_text(options.limit_db) + " dB is not allowed as the limit of a span",
                     "give a positive number of decibels");
  Survey result;
  SourceSampler sampler(from, to, options);
  name_sources(result, from, to, reference_hz(sampler.grid(sampler.known())));
  const auto modes = damping_sources(from, to, options);

  std::vector<std::optional<SurveyRow>> rows(earphones);
  std::vector<std::string> errors(earphones);
  ParallelProgress progress(options.progress, earphones);
  parallel_for(std::size_t{0}, earphones, [&](std::size_t place) {
    try {
      const Earphone one = earphone(place);
      SurveyRow row = surveyed(one, sampler, result.from.output_ohm, options.limit_db);
      row.place = place;
      add_q_changes(row, one, modes, row.known);
      if (one.needed_bias_volt) row.cautions = needed_bias_cautions(one, from, to);
      rows[place] = std::move(row);
    } catch (const InputError& error) {
      errors[place] = error.what();
    }
    progress.one_more();
  });
  progress.finish();

  for (std::size_t place = 0; place < earphones; ++place) {
    if (rows[place])
      result.rows.push_back(std::move(*rows[place]));
    else
      result.failures.push_back({place, std::move(errors[place])});
  }
  rank(result);
  return result;
}

}  // namespace ohmtilt
