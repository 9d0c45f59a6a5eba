#include <ohmtilt/measure/impedance.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Everything the impedance at one frequency is computed from: ratios, resistances, and what an
/// input takes of the scale.
enum Input { ratio, same, open, shorted, known, reference, resistor, loading, inputs };
using Values = std::array<Complex, inputs>;

struct Given {
  Wiring wiring;
  double input_ohm;
  bool same, open, shorted, known;

  bool at_load() const { return wiring == Wiring::load; }
  /// Whether a recording tells the channels' gain, by itself or within what is used of it.
  bool gain_is_recorded() const { return same || (at_load() ? open : shorted); }
  /// Whether the open circuit's ratio holds a loading that nothing tells from the gain.
  bool loading_is_open() const {
    return at_load() && open && !same && !known && std::isinf(input_ohm);
  }
};

struct Map {
  Complex at_short, at_open, scale_ohm;
};

/// What the second channel's input leaves of an open circuit's ratio.
Complex unloaded(const Values& x, const Given& given) {
  if (given.at_load() && given.same && given.open) return x[open] / x[same];
  if (std::isinf(given.input_ohm)) return x[loading];
  return given.input_ohm / (x[reference] + given.input_ohm);
}

/// What is assumed where nothing was recorded: an ideal short and open. x[same] is the gain.
Map ideal(const Values& x, const Given& given) {
  const Complex rest = unloaded(x, given);
  const Complex scale_ohm = x[reference] * rest;
  if (given.at_load()) return {0, x[same] * rest, scale_ohm};
  return {x[same], 0, scale_ohm};
}

Map map(const Values& x, const Given& given) {
  Map m = ideal(x, given);
  if (given.shorted) m.at_short = x[shorted];
  if (given.open) m.at_open = x[open];
  if (!given.known) return m;
  if (given.gain_is_recorded())
    m.scale_ohm = x[resistor] * (m.at_open - x[known]) / (x[known] - m.at_short);
  else if (given.at_load())
    m.at_open = x[known] + m.scale_ohm * (x[known] - m.at_short) / x[resistor];
  else
    m.at_short = x[known] + x[resistor] * (x[known] - m.at_open) / m.scale_ohm;
  return m;
}

Complex impedance_of(const Values& x, const Given& given) {
  const Map m = map(x, given);
  return m.scale_ohm * (x[ratio] - m.at_short) / (m.at_open - x[ratio]);
}

/// What an error of one input does to the impedance.
double effect_of(const Values& x, int input, double u, const Given& given) {
  if (u == 0) return 0;
  Values above = x, below = x;
  above[input] += u;
  below[input] -= u;
  return std::abs(impedance_of(above, given) - impedance_of(below, given)) / 2;
}

/// All inputs are independent and the impedance is analytic in each, so a circular error of one
/// gives a circular error of the impedance.
double uncertainty_of(const Values& x, const std::array<double, inputs>& u, const Given& given) {
  double variance = 0;
  for (int i = 0; i < inputs; ++i) variance += std::pow(effect_of(x, i, u[i], given), 2);
  return std::sqrt(variance);
}

std::string open_note(const Given& given) {
  if (!given.at_load()) return "open: removes crosstalk and leakage between the channels";
  if (!given.loading_is_open())
    return "open: removes the channels' mismatch and what loads the open terminals";
  return "open: removes the channels' mismatch; what the input takes of the scale stays, and "
         "counts in the uncertainty (--calibrate-same or --input-ohm tells it)";
}

std::vector<std::string> removed(const Given& given) {
  std::vector<std::string> notes;
  const bool overruled = given.at_load() ? given.open && given.known : given.shorted;
  if (given.same && !overruled)
    notes.push_back("same signal on both channels: removes their gain and phase mismatch");
  if (given.open) notes.push_back(open_note(given));
  if (given.shorted)
    notes.push_back(given.at_load()
                        ? "short: removes the leads' and contacts' series impedance"
                        : "short: removes the channels' mismatch and the leads' series impedance");
  if (given.known)
    notes.push_back(given.gain_is_recorded()
                        ? "known resistor: replaces the reference's value as the scale"
                        : "known resistor: removes the channels' gain and phase mismatch");
  if (std::isfinite(given.input_ohm))
    notes.push_back("input resistance of " + number_text(given.input_ohm) +
                    " ohm: its loading is removed");
  return notes;
}

void check(const Transfer& measured, const Calibration& calibration,
           const ImpedanceOptions& options) {
  const auto positive = [](double ohm, const char* what) {
    if (!(ohm > 0))
      throw InputError(std::string(what) + " of " + number_text(ohm) + " ohm is not one",
                       "give a positive resistance in ohm");
  };
  positive(options.reference_ohm, "a reference");
  if (!std::isfinite(options.reference_ohm))
    throw InputError("the reference is not finite", "give its resistance in ohm");
  positive(options.input_ohm, "an input resistance");
  if (calibration.known) positive(calibration.known_ohm, "a known resistor");
  for (const double percent : {options.reference_tolerance_percent, options.mismatch_percent,
                               calibration.known_tolerance_percent})
    if (!(percent >= 0 && percent < 100))
      throw InputError("a tolerance of " + number_text(percent) + " % is not one", "give 0 to 100");
  for (const auto* one :
       {&calibration.same, &calibration.open, &calibration.short_, &calibration.known})
    if (*one && ((*one)->frequency_hz.size() != measured.frequency_hz.size() ||
                 ((*one)->frequency_hz != measured.frequency_hz).any()))
      throw InputError("calibration and measurement stand on different frequencies",
                       "evaluate them with the same band and resolution");
}

}  // namespace

MeasuredImpedance impedance(const Transfer& measured, const Calibration& calibration,
                            const ImpedanceOptions& options) {
  check(measured, calibration, options);
  const Given given{options.wiring,
                    options.input_ohm,
                    calibration.same.has_value(),
                    calibration.open.has_value(),
                    calibration.short_.has_value(),
                    calibration.known.has_value()};
  const std::array<const Transfer*, 5> recorded{&measured,
                                                calibration.same ? &*calibration.same : nullptr,
                                                calibration.open ? &*calibration.open : nullptr,
                                                calibration.short_ ? &*calibration.short_ : nullptr,
                                                calibration.known ? &*calibration.known : nullptr};
  const Index n = measured.frequency_hz.size();
  MeasuredImpedance result{measured.frequency_hz, ComplexArray(n), Array(n),
                           measured.coherence,    ComplexArray(n), removed(given),
                           Array::Zero(n)};
  Values x{};
  std::array<double, inputs> u{};
  const double mismatch = options.mismatch_percent / 100;
  x[same] = x[loading] = 1;  // the gain, unless it was recorded
  u[same] = uncertainty_of_limit(mismatch);
  x[reference] = options.reference_ohm;
  u[reference] =
      uncertainty_of_limit(options.reference_tolerance_percent / 100) * options.reference_ohm;
  x[resistor] = calibration.known_ohm;
  u[resistor] =
      uncertainty_of_limit(calibration.known_tolerance_percent / 100) * calibration.known_ohm;
  for (Index i = 0; i < n; ++i) {
    for (std::size_t r = 0; r < recorded.size(); ++r) {
      if (!recorded[r]) continue;
      x[r] = recorded[r]->ratio[i];
      u[r] = recorded[r]->uncertainty[i];
    }
    if (given.loading_is_open())
      u[loading] = uncertainty_of_limit(std::max(0.0, 1 - std::abs(x[open]) / (1 + mismatch)));
    result.impedance_ohm[i] = impedance_of(x, given);
    result.uncertainty_ohm[i] = uncertainty_of(x, u, given);
    result.share[i] = result.impedance_ohm[i] / (result.impedance_ohm[i] + options.reference_ohm);
    if (given.same) continue;
    const double open_share =
        effect_of(x, same, u[same], given) / std::abs(result.impedance_ohm[i]);
    if (std::isfinite(open_share)) result.uncalibrated[i] = open_share;
  }
  return result;
}

}  // namespace ohmtilt
