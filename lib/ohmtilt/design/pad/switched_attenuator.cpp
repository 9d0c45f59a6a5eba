#include <ohmtilt/base/decibel.h>
#include <ohmtilt/design/pad/switched_attenuator.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <boost/math/tools/roots.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace ohmtilt {
namespace {

constexpr std::size_t most_steps = 48;
constexpr double row_within_db = 1;  // of the row's resistance: 12 %
constexpr double growth = 1.1;       // of a row that the values there are do not give
constexpr double most_growth = 1000;

void check(const SwitchedAttenuatorOptions& options) {
  const auto& db = options.steps_db;
  const bool rises = std::adjacent_find(db.begin(), db.end(), std::greater_equal<>()) == db.end();
  if (db.size() < 2 || db.size() > most_steps || !rises || !(db.front() >= 0) || db.back() > 120)
    throw InputError("the steps of a switch should rise",
                     "give 2 to 48 of them from 0 to 120 dB, such as 0,3,6,10,20");
  if (options.values_ohm.empty())
    throw InputError("there are no values to build from", "widen the range, or name a stock");
  if (!(options.within_db > 0 && std::isfinite(options.within_db)))
    throw InputError("a step within " + number_text(options.within_db) + " dB cannot be had",
                     "give a positive number of decibels");
  if (!(options.tolerance_percent >= 0 && options.tolerance_percent < 100))
    throw InputError(
        "a tolerance of " + number_text(options.tolerance_percent) + " % is not allowed",
        "give per cent from 0 to less than 100");
  if (options.total_ohm && !(*options.total_ohm > 0 && std::isfinite(*options.total_ohm)))
    throw InputError("a ladder of " + number_text(*options.total_ohm) + " ohm is not allowed",
                     "give a positive resistance");
}

Pad l_pad(double above_ohm, double below_ohm) {
  return {PadTopology::L, {above_ohm, below_ohm}, 0};
}

/// Part of the row below the joint that attenuates by db; all of it where it takes more already.
double below_ohm(const PadSite& site, double total_ohm, double db) {
  const auto excess_db = [&](double below) {
    return site.attenuation_db(two_port(l_pad(total_ohm - below, below))) - db;
  };
  const double least = total_ohm * 1e-9;
  if (excess_db(total_ohm) >= 0) return total_ohm;
  std::uintmax_t steps = 200;
  const auto bracket = boost::math::tools::toms748_solve(
      excess_db, least, total_ohm, boost::math::tools::eps_tolerance<double>(48), steps);
  return (bracket.first + bracket.second) / 2;
}

std::size_t nearest(const std::vector<double>& values, double ohm) {
  const auto closer = [&](double a, double b) {
    return std::abs(std::log(a / ohm)) < std::abs(std::log(b / ohm));
  };
  return static_cast<std::size_t>(std::min_element(values.begin(), values.end(), closer) -
                                  values.begin());
}

/// The row as indices into the values, from the amplifier to the return; the joint of step i is
/// above part i, the first step's joint has nothing above it when it is all of the row.
struct Row {
  std::vector<std::size_t> parts;
  bool starts_at_top = true;
};

double sum_from(const Row& row, const std::vector<double>& values, std::size_t first) {
  return std::accumulate(row.parts.begin() + static_cast<std::ptrdiff_t>(first), row.parts.end(),
                         0.0, [&](double sum, std::size_t part) { return sum + values[part]; });
}

std::vector<Pad> pads_of(const Row& row, const std::vector<double>& values, std::size_t steps) {
  std::vector<Pad> pads;
  const double total = sum_from(row, values, 0);
  for (std::size_t i = 0; i < steps; ++i) {
    const double below = sum_from(row, values, i + (row.starts_at_top ? 0 : 1));
    pads.push_back(l_pad(total - below, below));
  }
  return pads;
}

Row first_row(const PadSite& site, double total_ohm, const SwitchedAttenuatorOptions& options) {
  std::vector<double> joints;  // what is below each, falling
  for (const double db : options.steps_db) joints.push_back(below_ohm(site, total_ohm, db));
  Row row;
  row.starts_at_top = joints.front() == total_ohm;
  if (!row.starts_at_top) joints.insert(joints.begin(), total_ohm);
  double below = 0;
  for (auto joint = joints.rbegin(); joint != joints.rend(); ++joint) {
    const double wanted = std::max(*joint - below, options.values_ohm.front());
    row.parts.insert(row.parts.begin(), nearest(options.values_ohm, wanted));
    below += options.values_ohm[row.parts.front()];
  }
  return row;
}

/// How far a row is from what is wanted: 1 is just good enough. Of its own resistance only what is
/// beyond row_within_db counts. What reaches bound is not worked out to its end.
double shortfall(const PadSite& site, const Row& row, double total_ohm,
                 const SwitchedAttenuatorOptions& options, double bound = INFINITY) {
  const double off_db =
      std::abs(db_from_amplitude(sum_from(row, options.values_ohm, 0) / total_ohm)) / row_within_db;
  double largest = off_db > 1 ? off_db : 0;
  const auto pads = pads_of(row, options.values_ohm, options.steps_db.size());
  for (std::size_t i = 0; i < pads.size() && largest < bound; ++i)
    largest =
        std::max(largest, std::abs(site.attenuation_db(two_port(pads[i])) - options.steps_db[i]) /
                              options.within_db);
  return largest;
}

/// Moves a part by one value, up or down; false at the end of the values.
bool move_part(std::size_t& part, int step, std::size_t count) {
  if (step < 0 ? part == 0 : part + 1 == count) return false;
  part += static_cast<std::size_t>(step);
  return true;
}

/// Row with part moved, and the one below it when second is not 0; nothing when one cannot.
std::optional<Row> moved(const Row& row, std::size_t part, int first, int second,
                         std::size_t count) {
  Row changed = row;
  if (!move_part(changed.parts[part], first, count)) return {};
  if (second == 0) return changed;
  if (part + 1 == row.parts.size() || !move_part(changed.parts[part + 1], second, count)) return {};
  return changed;
}

/// Changes a part, or two that meet, by one value while that makes the shortfall smaller, which is
/// returned.
double improve(const PadSite& site, double total_ohm, const SwitchedAttenuatorOptions& options,
               Row& row) {
  double least = shortfall(site, row, total_ohm, options);
  for (bool better = true; better;) {
    better = false;
    for (std::size_t part = 0; part < row.parts.size(); ++part)
      for (const int first : {-1, 1})
        for (const int second : {0, -1, 1}) {
          const auto changed = moved(row, part, first, second, options.values_ohm.size());
          if (!changed) continue;
          const double after = shortfall(site, *changed, total_ohm, options, least);
          if (!(after < least)) continue;
          least = after;
          row = *changed;
          better = true;
        }
  }
  return least;
}

struct FoundRow {
  Row row;
  double shortfall = INFINITY;
};

/// What is good enough, or the best of some descents, each from a row of a resistance a little
/// beside the wanted one.
FoundRow row_of(const PadSite& site, double total_ohm, const SwitchedAttenuatorOptions& options) {
  FoundRow best;
  for (const double beside : {1.0, 0.95, 1.05}) {
    if (best.shortfall <= 1) break;
    FoundRow found{first_row(site, beside * total_ohm, options)};
    found.shortfall = improve(site, total_ohm, options, found.row);
    if (found.shortfall < best.shortfall) best = std::move(found);
  }
  return best;
}

/// The row of the asked resistance; without one the first from the earphone's lowest |Z| upwards
/// that has every step, or else the one that comes nearest to it.
Row best_row(const PadSite& site, const SwitchedAttenuatorOptions& options) {
  if (options.total_ohm) return row_of(site, *options.total_ohm, options).row;
  const double least_ohm = site.load_min_ohm();
  FoundRow best;
  for (double total = least_ohm; total <= most_growth * least_ohm && best.shortfall > 1;
       total *= growth) {
    FoundRow found = row_of(site, total, options);
    if (found.shortfall < best.shortfall) best = std::move(found);
  }
  return best.row;
}

/// ohm of the row from part first up to last, each varied, summed.
void sum_varied(const ResistorDraws& draws, const std::vector<double>& ohm, double part,
                std::size_t first, std::size_t last, std::size_t block,
                TwoPortBlock::Numbers& sums) {
  sums.fill(0);
  for (std::size_t i = first; i < last; ++i) {
    const auto& deviates = draws.deviates(i, block);
    for (std::size_t k = 0; k < sums.size(); ++k) sums[k] += ohm[i] * (1 + part * deviates[k]);
  }
}

/// Of the step whose joint has that many parts of the row above it.
PadSpread step_spread(const PadSite& site, const std::vector<double>& ohm, const Pad& pad,
                      std::size_t above, const ResistorDraws& draws) {
  const double part = pad.tolerance_percent / 100;
  std::array<TwoPortBlock::Numbers, 2> arms;
  return spread(draws, site.varied_attenuation(pad), [&](std::size_t block, TwoPortBlock& pads) {
    sum_varied(draws, ohm, part, 0, above, block, arms[0]);
    sum_varied(draws, ohm, part, above, ohm.size(), block, arms[1]);
    two_ports(PadTopology::L, arms, pads);
  });
}

/// The heat in each resistor of the row: those above the joint carry one current, those below
/// another.
std::vector<double> row_milliwatt(const PadSite& site, const std::vector<double>& ohm,
                                  const Pad& pad, std::size_t above) {
  const auto watt = site.dissipation_watt(pad);
  std::vector<double> heat;
  for (std::size_t i = 0; i < ohm.size(); ++i) {
    const std::size_t arm = i < above ? 0 : 1;
    heat.push_back(1000 * watt[arm] * ohm[i] / pad.ohm[arm]);
  }
  return heat;
}

double error_db(const SwitchedAttenuator::Step& step) {
  return std::abs(step.attenuation_db - step.asked_db);
}

void refuse_by_error(const std::vector<SwitchedAttenuator::Step>& steps, double within_db) {
  const auto& worst =
      *std::max_element(steps.begin(), steps.end(),
                        [](const auto& a, const auto& b) { return error_db(a) < error_db(b); });
  if (error_db(worst) <= within_db) return;
  const auto hundredths = [](double db) { return number_text(std::round(100 * db) / 100); };
  throw InputError("with the values there are, the step of " + number_text(worst.asked_db) +
                       " dB comes out as " + hundredths(worst.attenuation_db) +
                       " dB, further off than " + number_text(within_db) + " dB",
                   "name more values, another sum of the ladder's resistances, or a larger error");
}

std::vector<LimitedFigure> figures_of(const SwitchedAttenuator::Step& step) {
  return {{PadLimit::span, step.span_db},
          {PadLimit::output, step.output_ohm},
          {PadLimit::input, step.input_min_ohm},
          {PadLimit::dissipation,
           *std::max_element(step.dissipation_milliwatt.begin(), step.dissipation_milliwatt.end())},
          {PadLimit::noise, step.noise_volt_a_weighted}};
}

}  // namespace

double SwitchedAttenuator::total_ohm() const {
  return std::accumulate(ohm.begin(), ohm.end(), 0.0);
}

SwitchedAttenuator switched_attenuator(const PadSite& site,
                                       const SwitchedAttenuatorOptions& options) {
  check(options);
  const Row row = best_row(site, options);
  SwitchedAttenuator result;
  for (const std::size_t part : row.parts) result.ohm.push_back(options.values_ohm[part]);
  auto pads = pads_of(row, options.values_ohm, options.steps_db.size());
  const ResistorDraws draws(options.draws, result.ohm.size());
  for (std::size_t i = 0; i < pads.size(); ++i) {
    pads[i].tolerance_percent = options.tolerance_percent;
    const ResistiveTwoPort pad = two_port(pads[i]);
    const std::size_t above = i + (row.starts_at_top ? 0 : 1);
    result.steps.push_back({options.steps_db[i], pads[i], site.attenuation_db(pad),
                            site.output_ohm(pad), site.span_db(pad), site.input_min_ohm(pad),
                            step_spread(site, result.ohm, pads[i], above, draws),
                            site.largest_ampere(pad), site.noise_volt_a_weighted(pad),
                            row_milliwatt(site, result.ohm, pads[i], above)});
  }
  refuse_by_error(result.steps, options.within_db);
  return result;
}

std::vector<SwitchExcess> exceeded(const SwitchedAttenuator& ladder, const PadLimits& limits) {
  std::vector<SwitchExcess> all;
  for (const auto& step : ladder.steps)
    for (const auto& excess : exceeded(figures_of(step), limits)) {
      const auto same = std::find_if(all.begin(), all.end(), [&](const auto& one) {
        return one.excess.limit == excess.limit;
      });
      if (same == all.end())
        all.push_back({excess, step.asked_db});
      else if (same->excess.times < excess.times)
        *same = {excess, step.asked_db};
    }
  for (const auto& excess : exceeded({{PadLimit::parts, double(ladder.ohm.size())}}, limits))
    all.push_back({excess, {}});
  return all;
}

}  // namespace ohmtilt
