#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/analysis/damping/mode_refinement.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

void check(const std::vector<DampingSource>& sources, const DampingOptions& options) {
  if (sources.empty() || (sources.size() < 2 && !options.limit_q_percent))
    throw InputError("there is no source to compare with",
                     "give a second one, or a limit of the change of Q");
  if (options.burst_hz && !(*options.burst_hz > 0 && std::isfinite(*options.burst_hz)))
    throw InputError(number_text(*options.burst_hz) + " Hz is not allowed for the burst",
                     "give a positive frequency");
  if (options.cycles < 1 || options.cycles > 1000)
    throw InputError(std::to_string(options.cycles) + " cycles are not allowed for the burst",
                     "give 1 to 1000 whole cycles");
  if (options.limit_q_percent &&
      !(*options.limit_q_percent > 0 && std::isfinite(*options.limit_q_percent)))
    throw InputError(number_text(*options.limit_q_percent) + " % is not allowed as a limit of Q",
                     "give a positive percentage");
}

bool is_zero(const DampingSource& source) {
  return source.is_resistive() && source.output.constant == 0;
}

void add_conditions(Damping& result, const std::vector<DampingSource>& sources) {
  result.conditions = {{"0 ohm", std::nullopt, 0, "0 ohm"}};
  for (std::size_t i = 0; i < sources.size(); ++i) {
    result.condition_of_source.push_back(is_zero(sources[i]) ? 0 : result.conditions.size());
    if (is_zero(sources[i])) continue;
    result.conditions.push_back(
        {sources[i].label, i, sources[i].output_ohm, sources[i].short_label});
  }
  result.conditions.push_back({"open", std::nullopt, infinity, "open"});
}

/// Which row of ModeTable::at belongs to a condition.
std::size_t row_of_condition(const Damping& result, std::size_t condition) {
  if (condition == 0) return 0;
  const auto source = result.conditions[condition].source;
  return source ? *source + 1 : result.condition_of_source.size() + 1;
}

/// A pair of a reactive source has no column among the resistive ones.
std::optional<PairMode> mode_in(const Eigen::ArrayXXcd& tracks, Index row, const ModePair& pair) {
  if (pair.first >= tracks.cols() || pair.second >= tracks.cols()) return std::nullopt;
  return mode_of(tracks(row, pair.first), tracks(row, pair.second));
}

std::vector<DampedMode> listed_modes(const DampingEarphone& earphone, const ModeTable& table,
                                     const std::vector<ModePair>& pairs, const Damping& result) {
  std::vector<DampedMode> modes;
  std::vector<Complex> shorted;
  for (const ModePair& pair : pairs) {
    const auto at_zero = mode_in(table.at.front(), pair);
    shorted.push_back(at_zero ? at_zero->s1 : Complex(0, infinity));
    DampedMode mode;
    mode.hz = stated_hz(table, pair);
    for (std::size_t i = 0; i < result.conditions.size(); ++i)
      mode.at.push_back(mode_in(table.at[row_of_condition(result, i)], pair));
    modes.push_back(std::move(mode));
  }
  const auto names = mode_names(earphone, shorted);
  for (std::size_t i = 0; i < modes.size(); ++i)
    if (std::isfinite(shorted[i].imag())) modes[i].name = names[i];
  return modes;
}

// ---- changes of Q -------------------------------------------------------------------------------

/// Q of the pairs at the sources: one row a source, as ModeTable::at without its ends.
struct ModeChanges {
  const ModeTable& table;
  const std::vector<ModePair>& pairs;

  double largest_percent(const std::vector<Complex>& values) const {
    double largest = 0;
    for (const ModePair& pair : pairs)
      if (const auto change = q_change_percent(mode_in(table.at[1], pair), mode_in(values, pair)))
        largest = std::max(largest, std::abs(*change));
    return largest;
  }
};

std::vector<Complex> row(const Eigen::ArrayXXcd& tracks, Index i, std::size_t columns) {
  std::vector<Complex> values(columns, Complex(-infinity, 0));
  for (Index j = 0; j < tracks.cols(); ++j) values[static_cast<std::size_t>(j)] = tracks(i, j);
  return values;
}

/// Those that exist.
std::vector<Complex> present(std::vector<Complex> modes) {
  std::erase_if(modes, [](Complex s) { return !std::isfinite(s.real()); });
  return modes;
}

/// Follows the modes of the model, and judges those of the circuits.
class LimitSearch {
 public:
  LimitSearch(const DampingEarphone& earphone, const ModeTable& of_models,
              const ModeRefinement& refinement, const ModeChanges& changes)
      : impedance_(earphone.impedance),
        of_models_(of_models),
        refinement_(refinement),
        changes_(changes),
        columns_(of_models.at.front().size()) {}

  void run(QLimit& limit, double from_ohm) const {
    double low = from_ohm;
    std::vector<Complex> start = of_models_.at[1];
    for (Index i = 0; i < of_models_.source_ohm.size(); ++i) {
      const double ohm = of_models_.source_ohm[i];
      if (ohm <= from_ohm) continue;
      if (percent(changes_.table.tracks, i) > limit.limit_percent) {
        limit.largest_ohm = refined_limit(limit.limit_percent, low, ohm, std::move(start));
        return;
      }
      low = ohm;
      start = row(of_models_.tracks, i, columns_);
    }
    limit.unlimited = true;
  }

 private:
  double percent(const Eigen::ArrayXXcd& tracks, Index i) const {
    return changes_.largest_percent(row(tracks, i, columns_));
  }

  /// Between two resistances, of which only the first keeps within the limit.
  double refined_limit(double limit, double low, double high, std::vector<Complex> start) const {
    for (int round = 0; round < 4; ++round) {
      const Array ohm = Array::LinSpaced(21, low, high);
      const Eigen::ArrayXXcd followed =
          track_zeros([&](double at) { return behind(at); }, ohm.tail(20), present(start));
      Eigen::ArrayXXcd tracks = followed;
      refinement_.refine_tracks(tracks, ohm.tail(20), changes_.pairs);
      Index i = 0;
      while (i < 19 && percent(tracks, i) <= limit) ++i;
      low = ohm[i];
      high = ohm[i + 1];
      if (i > 0) start = row(followed, i - 1, columns_);
      start.resize(columns_, Complex(-infinity, 0));
    }
    return low;
  }

  RationalModel behind(double ohm) const {
    RationalModel model = impedance_;
    model.constant += ohm;
    return model;
  }

  const RationalModel& impedance_;
  const ModeTable& of_models_;
  const ModeRefinement& refinement_;
  const ModeChanges& changes_;
  std::size_t columns_;
};

QLimit q_limit(const std::vector<DampingSource>& sources, const ModeChanges& changes,
               const LimitSearch& search, double limit_percent,
               std::vector<std::string>& warnings) {
  QLimit limit{limit_percent, 0, false, {}, false};
  for (std::size_t i = 1; i < sources.size(); ++i)
    limit.worst_percent =
        std::max(limit.worst_percent, changes.largest_percent(changes.table.at[i + 1]));
  limit.exceeded = limit.worst_percent > limit_percent;
  if (sources[0].is_resistive())
    search.run(limit, sources[0].output.constant);
  else
    warnings.push_back("the highest output impedance is not searched for: " +
                       printable(sources[0].label) + " is not a resistance");
  return limit;
}

std::optional<std::size_t> most_changed(const ModeTable& table, const std::vector<ModePair>& pairs,
                                        std::size_t sources, double least_q = least_peaked_q) {
  std::optional<ModeChange> found;
  for (std::size_t i = 1; i < sources; ++i) {
    const auto change = largest_change(pairs, table.at[1], table.at[i + 1], least_q);
    if (change && (!found || std::abs(change->percent) > std::abs(found->percent))) found = change;
  }
  if (found) return found->pair;
  return least_q == 0 ? std::nullopt : most_changed(table, pairs, sources, 0);
}

// ---- driver and damping factor ------------------------------------------------------------------

std::vector<DriverQ> driver_qs(const MovingCoil& driver,
                               const std::vector<DampingSource>& sources) {
  std::vector<DriverQ> all;
  for (const auto& source : sources) {
    const Complex s(0, two_pi * driver.resonance_hz);
    all.push_back(driver_q(driver, evaluate(source.output, s).real()));
  }
  return all;
}

/// Z at zero frequency; 0 where no direct current flows.
double direct_ohm(const RationalModel& impedance) {
  for (const RealPole& term : impedance.real)
    if (term.pole == 0) return 0;
  const double ohm = evaluate(impedance, Complex(0, 0)).real();
  return ohm > 0 && std::isfinite(ohm) ? ohm : 0;
}

/// Whether all direct current flows through the coil: then Z at zero frequency grows as its
/// resistance does (by the square of the coil's share of the current).
bool carries_direct_current(const MovingCoil& coil, const DampingEarphone& earphone) {
  if (coil.name.empty()) return true;  // a curve's only resonance
  CircuitDraft draft = earphone.circuit.draft();
  const auto resistance = std::find_if(draft.parts.begin(), draft.parts.end(),
                                       [&](const Part& p) { return p.name == coil.name + ".dc"; });
  if (resistance == draft.parts.end()) return false;
  const Array hz = Array::Constant(1, 1e-3);
  const double before = driving_point(earphone.circuit, hz)[0].real();
  const double more = 0.01 * coil.dc_ohm;
  resistance->values[0].value += more;
  const double after = driving_point(Circuit(std::move(draft)), hz)[0].real();
  return std::abs((after - before) / more - 1) < 0.02;
}

double coil_ohm(const DampingEarphone& earphone) {
  if (!earphone.moving_coil || !carries_direct_current(*earphone.moving_coil, earphone)) return 0;
  return direct_ohm(earphone.impedance);
}

DampingFactor damping_factor(const Damping& result, const ComplexArray& load,
                             const DampingSource& source) {
  const ComplexArray output = evaluate(source.output, result.frequency_hz);
  DampingFactor factor{source.output_ohm, load.abs() / output.abs(), {}, {}};
  if (result.coil_ohm > 0) factor.ratio_with_coil = load.abs() / (output + result.coil_ohm).abs();
  if (source.output_ohm > 0) factor.rated = result.rated_ohm / source.output_ohm;
  return factor;
}

void add_factors(Damping& result, const DampingEarphone& earphone,
                 const std::vector<DampingSource>& sources, const DampingOptions& options) {
  const Band band = overlap(options.band, earphone.known);
  result.frequency_hz = log_grid(band, options.points);
  const ComplexArray load = evaluate(earphone.impedance, result.frequency_hz);
  result.coil_ohm = coil_ohm(earphone);
  result.rated_is_stated = earphone.rated_ohm.has_value();
  result.rated_ohm = earphone.rated_ohm.value_or(load.abs().minCoeff() / 0.8);
  for (const auto& source : sources) result.factors.push_back(damping_factor(result, load, source));
}

// ---- time ---------------------------------------------------------------------------------------

/// Longest decay to -60 dB at the sources, in seconds; fallback_s without a mode that decays.
double longest_decay_s(const std::vector<DampedMode>& modes, double fallback_s) {
  double longest = 0;
  for (const auto& mode : modes)
    for (std::size_t i = 0; i + 1 < mode.at.size(); ++i)
      if (mode.at[i] && std::isfinite(mode.at[i]->decay_60_db_ms))
        longest = std::max(longest, 1e-3 * mode.at[i]->decay_60_db_ms);
  return longest > 0 ? longest : fallback_s;
}

double highest_hz(const std::vector<DampedMode>& modes) {
  double highest = 0;
  for (const auto& mode : modes)
    for (const auto& at : mode.at)
      if (at) highest = std::max(highest, at->hz);
  return highest;
}

/// Fine enough for hz, within 1001 to 4001 instants; cut short rather than coarser than 20 a cycle.
TimeGrid grid_over(double length_s, double hz) {
  const double wanted = 40 * hz * length_s;
  const double count = std::clamp(std::ceil(wanted), 1000.0, 4000.0);
  const double length = std::min(length_s, count / (20 * hz));
  return {length / count, static_cast<Index>(count) + 1};
}

void choose_burst(Damping& result, const DampingOptions& options) {
  result.burst.cycles = options.cycles;
  result.burst.hz = options.burst_hz.value_or(1000);
  double tail = longest_decay_s(result.modes, 5e-3);
  if (!options.burst_hz && !result.modes.empty()) {
    const DampedMode& mode = result.modes[result.most_changed.value_or(0)];
    result.burst.hz = mode.hz;
    result.burst_is_at_mode = true;
    tail = longest_decay_s({mode}, tail);
  }
  const double length = result.burst.length_s();
  result.burst_grid =
      grid_over(length + std::clamp(tail, length / 2, 30 * length), result.burst.hz);
  result.step_grid = grid_over(std::clamp(longest_decay_s(result.modes, 5e-3), 1e-3, 1.0),
                               std::max(highest_hz(result.modes), 50.0));
}

void add_time_responses(Damping& result, const DampingEarphone& earphone,
                        const std::vector<DampingSource>& sources, const ModeTable& table) {
  for (std::size_t s = 0; s < sources.size(); ++s) {
    const auto [terminal, motional] =
        terminal_ratios(earphone, sources[s], present(table.at[s + 1]));
    SourceBurst burst{
        sources[s].label, burst_response(terminal, result.burst, result.burst_grid), {}};
    for (std::size_t i = 0; i < motional.size(); ++i)
      burst.motional.push_back({earphone.motional[i].driver,
                                burst_response(motional[i], result.burst, result.burst_grid)});
    result.bursts.push_back(std::move(burst));
    result.steps.push_back({sources[s].label, step_response(terminal, result.step_grid),
                            step_response(terminal, result.burst_grid)});
  }
}

/// The largest change of a Q from 0 ohm to ohm.
double change_from_short(const ModeTable& table, const std::vector<ModePair>& pairs, double ohm) {
  double largest = 0;
  for (const ModePair& pair : pairs)
    if (const auto change = q_change_percent(mode_in(table.at.front(), pair),
                                             mode_in(table.tracks, row_of(table, ohm), pair)))
      largest = std::max(largest, std::abs(*change));
  return largest;
}

constexpr double locus_low_ohm = 0.1, locus_high_ohm = 1000;

DampingLocus locus_of(const ModeTable& table, const std::vector<ModePair>& pairs,
                      const Array& source_ohm) {
  DampingLocus locus{source_ohm, {}};
  for (const ModePair& pair : pairs) {
    std::vector<std::optional<PairMode>> modes;
    for (const double ohm : source_ohm)
      modes.push_back(mode_in(table.tracks, row_of(table, ohm), pair));
    locus.modes.push_back(std::move(modes));
  }
  return locus;
}

/// Of table.tracks: all for a limit, otherwise those at the resistances between.
std::vector<Index> needed_rows(const ModeTable& table, const Array& between,
                               const DampingOptions& options) {
  std::vector<Index> rows;
  if (options.limit_q_percent)
    for (Index i = 0; i < table.source_ohm.size(); ++i) rows.push_back(i);
  else
    for (const double ohm : between) rows.push_back(row_of(table, ohm));
  return rows;
}

void warn_of_growth(Damping& result) {
  for (const auto& mode : result.modes)
    for (const auto& at : mode.at)
      if (at && at->q < 0) {
        result.warnings.push_back("a resonance grows instead of decaying: the circuit is active");
        return;
      }
}

void collect_warnings(Damping& result, const DampingEarphone& earphone,
                      const std::vector<DampingSource>& sources) {
  result.warnings = earphone.warnings;
  for (const auto& source : sources)
    result.warnings.insert(result.warnings.end(), source.warnings.begin(), source.warnings.end());
  if (result.modes.empty())
    result.warnings.push_back("no resonance lies in the band: there is nothing to damp");
  warn_of_growth(result);
}

}  // namespace

DriverQ driver_q(const MovingCoil& driver, double source_ohm) {
  DriverQ q{source_ohm, driver.q_electrical * (driver.dc_ohm + source_ohm) / driver.dc_ohm, 0};
  q.q_total = q.q_electrical * driver.q_mechanical / (q.q_electrical + driver.q_mechanical);
  return q;
}

Damping damping(const DampingEarphone& earphone, const std::vector<DampingSource>& sources,
                const DampingOptions& options) {
  check(sources, options);
  Damping result;
  add_factors(result, earphone, sources, options);
  Array between = Array::Constant(1, result.rated_ohm / 10), locus_ohm;
  if (options.locus) {
    locus_ohm = log_grid({locus_low_ohm, locus_high_ohm}, 200);
    between = (Array(201) << locus_ohm, between).finished();
  }
  add_conditions(result, sources);
  const ModeTable of_models = mode_table(earphone.impedance, sources, between);
  const ModeRefinement refinement(earphone, sources);
  ModeTable table = of_models;
  const std::vector<ModePair> pairs =
      refinement.refine(table, options.band, needed_rows(table, between, options));
  result.modes = listed_modes(earphone, table, pairs, result);
  result.most_changed = most_changed(table, pairs, sources.size());
  result.change_at_factor_ten_percent = change_from_short(table, pairs, result.rated_ohm / 10);
  collect_warnings(result, earphone, sources);
  if (earphone.moving_coil) result.driver = driver_qs(*earphone.moving_coil, sources);
  choose_burst(result, options);
  add_time_responses(result, earphone, sources, of_models);
  if (options.locus) result.locus = locus_of(table, pairs, locus_ohm);
  if (options.limit_q_percent) {
    const ModeChanges changes{table, pairs};
    result.limit = q_limit(sources, changes, LimitSearch(earphone, of_models, refinement, changes),
                           *options.limit_q_percent, result.warnings);
  }
  return result;
}

}  // namespace ohmtilt
