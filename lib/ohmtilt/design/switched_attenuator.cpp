#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/design/switched_attenuator.h>

#include <boost/math/tools/roots.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

namespace ohmtilt {
namespace {

constexpr std::size_t most_steps = 48;

void check(const SwitchedAttenuatorOptions& options) {
  const auto& db = options.steps_db;
  const bool rises = std::adjacent_find(db.begin(), db.end(), std::greater_equal<>()) == db.end();
  if (db.size() < 2 || db.size() > most_steps || !rises || !(db.front() >= 0) || db.back() > 120)
    throw InputError("the steps of a switch should rise",
                     "give 2 to 48 of them from 0 to 120 dB, such as 0,3,6,10,20");
  if (options.values_ohm.empty())
    throw InputError("there are no values to build from", "widen the range, or name a stock");
  if (!(options.within_db > 0))
    throw InputError("a largest error of " + number_text(options.within_db) + " dB is none",
                     "give a positive number of dB");
  if (!(options.tolerance_percent >= 0 && options.tolerance_percent < 100))
    throw InputError("a tolerance of " + number_text(options.tolerance_percent) + " % is none",
                     "give per cent from 0 to less than 100");
  if (options.total_ohm && !(*options.total_ohm > 0 && std::isfinite(*options.total_ohm)))
    throw InputError("a row of " + number_text(*options.total_ohm) + " ohm is none",
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

double largest_error_db(const PadSite& site, const Row& row,
                        const SwitchedAttenuatorOptions& options) {
  const auto pads = pads_of(row, options.values_ohm, options.steps_db.size());
  double largest = 0;
  for (std::size_t i = 0; i < pads.size(); ++i)
    largest =
        std::max(largest, std::abs(site.attenuation_db(two_port(pads[i])) - options.steps_db[i]));
  return largest;
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

/// Changes one part by one value at a time while that makes the largest error smaller.
void improve(const PadSite& site, const SwitchedAttenuatorOptions& options, Row& row) {
  double error_db = largest_error_db(site, row, options);
  for (bool better = true; better;) {
    better = false;
    for (std::size_t& part : row.parts)
      for (const int step : {-1, 1}) {
        const std::size_t before = part;
        if (step < 0 ? part == 0 : part + 1 == options.values_ohm.size()) continue;
        part += static_cast<std::size_t>(step);
        const double changed_db = largest_error_db(site, row, options);
        if (changed_db < error_db) {
          error_db = changed_db;
          better = true;
        } else {
          part = before;
        }
      }
  }
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
                   "name more values, another row (--ladder-ohm), or a larger error (--within)");
}

}  // namespace

SwitchedAttenuator switched_attenuator(const PadSite& site,
                                       const SwitchedAttenuatorOptions& options) {
  check(options);
  Row row = first_row(site, options.total_ohm.value_or(site.load_min_ohm()), options);
  improve(site, options, row);
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
                            step_spread(site, result.ohm, pads[i], above, draws)});
  }
  refuse_by_error(result.steps, options.within_db);
  return result;
}

}  // namespace ohmtilt
