#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/measure/gum.h>
#include <ohmtilt/measure/impedance.h>
#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Everything the impedance at one frequency is computed from.
enum Input { ratio, same, open, shorted, known, reference, resistor, inputs };
using Values = std::array<Complex, inputs>;

struct Given {
  Wiring wiring;
  double input_ohm;
  bool same, open, shorted, known;
};

struct Map {
  Complex at_short, at_open, scale_ohm;
};

/// What is assumed where nothing was recorded: equal channels of gain g, an ideal short and open.
Map ideal(const Values& x, const Given& given) {
  const Complex gain = given.same ? x[same] : 1;
  const Complex unloaded =
      std::isinf(given.input_ohm) ? Complex(1) : given.input_ohm / (x[reference] + given.input_ohm);
  const Complex scale_ohm = x[reference] * unloaded;
  if (given.wiring == Wiring::load) return {0, gain * unloaded, scale_ohm};
  return {gain, 0, scale_ohm};
}

Map map(const Values& x, const Given& given) {
  Map m = ideal(x, given);
  if (given.shorted) m.at_short = x[shorted];
  if (given.open) m.at_open = x[open];
  if (!given.known) return m;
  const bool at_load = given.wiring == Wiring::load;
  if (given.same || (at_load ? given.open : given.shorted))
    m.scale_ohm = x[resistor] * (m.at_open - x[known]) / (x[known] - m.at_short);
  else if (at_load)
    m.at_open = x[known] + m.scale_ohm * (x[known] - m.at_short) / x[resistor];
  else
    m.at_short = x[known] + x[resistor] * (x[known] - m.at_open) / m.scale_ohm;
  return m;
}

Complex impedance_of(const Values& x, const Given& given) {
  const Map m = map(x, given);
  return m.scale_ohm * (x[ratio] - m.at_short) / (m.at_open - x[ratio]);
}

/// All inputs are independent and the impedance is analytic in each, so a circular error of one
/// gives a circular error of the impedance.
double uncertainty_of(const Values& x, const std::array<double, inputs>& u, const Given& given) {
  double variance = 0;
  for (int i = 0; i < inputs; ++i) {
    if (u[i] == 0) continue;
    Values above = x, below = x;
    above[i] += u[i];
    below[i] -= u[i];
    variance += std::norm((impedance_of(above, given) - impedance_of(below, given)) / 2.0);
  }
  return std::sqrt(variance);
}

std::vector<std::string> removed(const Given& given) {
  const bool at_load = given.wiring == Wiring::load;
  std::vector<std::string> notes;
  if (given.same && !(at_load ? given.open : given.shorted))
    notes.push_back("same signal on both channels: removes their gain and phase mismatch");
  if (given.open)
    notes.push_back(at_load
                        ? "open: removes the channels' mismatch and what loads the open terminals"
                        : "open: removes crosstalk and leakage between the channels");
  if (given.shorted)
    notes.push_back(at_load
                        ? "short: removes the leads' and contacts' series impedance"
                        : "short: removes the channels' mismatch and the leads' series impedance");
  const bool gain_is_known = given.same || (at_load ? given.open : given.shorted);
  if (given.known)
    notes.push_back(gain_is_known
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
  for (const double percent :
       {options.reference_tolerance_percent, calibration.known_tolerance_percent})
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
                           measured.coherence,    ComplexArray(n), removed(given)};
  Values x{};
  std::array<double, inputs> u{};
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
    result.impedance_ohm[i] = impedance_of(x, given);
    result.uncertainty_ohm[i] = uncertainty_of(x, u, given);
    result.share[i] = result.impedance_ohm[i] / (result.impedance_ohm[i] + options.reference_ohm);
  }
  return result;
}

}  // namespace ohmtilt
