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

/// Everything the impedance at one frequency is computed from: ratios, resistances, the share of an
/// unloaded voltage that the input leaves, and the series impedance of leads and contacts.
enum Input { ratio, same, open, shorted, known, reference, resistor, loading, leads, inputs };
using Values = std::array<Complex, inputs>;

struct Given {
  Wiring wiring;
  double input_ohm;
  bool same, open, shorted, known;

  bool at_load() const { return wiring == Wiring::load; }
  /// Whether the ratio without anything across the input's terminals but its own load is recorded.
  bool whole_is_recorded() const { return same || (at_load() && open); }
  /// Whether the open circuit's ratio holds a loading that nothing tells from the gain.
  bool loading_is_open() const {
    return at_load() && open && !same && !known && std::isinf(input_ohm);
  }
  /// Whether a recorded open circuit may be crosstalk or a leakage across the open terminals.
  bool leakage_is_open() const { return !at_load() && open && !(known && shorted); }
};

/// What the second channel's input leaves of an open circuit's ratio.
Complex unloaded(const Values& x, const Given& given) {
  if (given.at_load() && given.same && given.open) return x[open] / x[same];
  if (std::isinf(given.input_ohm)) return x[loading];
  return given.input_ohm / (x[reference] + given.input_ohm);
}

/// What the circuit between the channels is found to be.
struct Setup {
  Complex gain;         ///< of the second channel over the first
  Complex reference;    ///< ohm, with the input's loading
  Complex leads;        ///< ohm, in series with the earphone
  Complex at_zero = 0;  ///< ratio with the earphone's side open, at the reference (crosstalk)
  Complex whole = 1;    ///< at the earphone: ratio of an open circuit
  Complex impedance = 0;
};

/// The leads from short and known where the whole is not recorded: the two equations
/// s = a l/(l + rho) and k = a (P + l)/(P + l + rho) leave, with a gone,
/// l^2 + (P + rho) l = rho P s/(k - s), of which the root that vanishes with s is taken.
Complex leads_without_whole(const Values& x, Complex rho) {
  const Complex half = (x[resistor] + rho) / 2.0;
  const Complex product = rho * x[resistor] * x[shorted] / (x[known] - x[shorted]);
  return product / (half + std::sqrt(half * half + product));
}

/// The whole from the gain g, an input's resistance and a known resistor, whatever the reference
/// is: a = g (1 - rho/Ri) and rho = P (a - k)(a - s)/(a (k - s)) leave a quadratic, of which the
/// root that becomes g with a large Ri is taken. Without a short s is 0 and P holds the leads.
Complex whole_with_input(const Values& x, const Given& given) {
  const Complex s = given.shorted ? x[shorted] : 0, k = x[known];
  const Complex p = given.shorted ? x[resistor] : x[resistor] + x[leads];
  const Complex a = p + (k - s) * given.input_ohm / x[same];
  const Complex b = p * (k + s) + (k - s) * given.input_ohm;
  Complex root = std::sqrt(b * b - 4.0 * a * p * k * s);
  if ((std::conj(b) * root).real() < 0) root = -root;
  return (b + root) / (2.0 * a);
}

Setup setup_at_load(const Values& x, const Given& given) {
  const Complex rest = unloaded(x, given);
  const bool recorded = given.whole_is_recorded();
  Setup b{x[same], x[reference] * rest, x[leads]};
  b.whole = given.open ? x[open] : x[same] * rest;
  if (given.open && !given.same) b.gain = b.whole / rest;
  if (given.same && given.known && !given.open && std::isfinite(given.input_ohm))
    b.whole = whole_with_input(x, given);
  const auto lies_at = [&](Complex r) { return r / (b.whole - r); };  // (Z + l)/rho
  if (given.known && recorded)
    b.reference = given.shorted ? x[resistor] / (lies_at(x[known]) - lies_at(x[shorted]))
                                : (x[resistor] + x[leads]) / lies_at(x[known]);
  if (given.known && !recorded) {
    if (given.shorted) b.leads = leads_without_whole(x, b.reference);
    const Complex load = x[resistor] + b.leads;
    b.whole = x[known] * (load + b.reference) / load;
    b.gain = b.whole / rest;
  } else if (given.shorted) {
    b.leads = b.reference * lies_at(x[shorted]);
  }
  b.impedance = b.reference * lies_at(x[ratio]) - b.leads;
  return b;
}

Setup setup_at_reference(const Values& x, const Given& given) {
  Setup b{x[same], x[reference] * unloaded(x, given), x[leads]};
  if (given.open) b.at_zero = x[open];
  if (given.same) b.gain -= b.at_zero;
  const auto turns = [&](Complex r) { return 1.0 / (r - b.at_zero); };  // (Z + l + rho)/(g rho)
  if (given.known && given.shorted) {
    const Complex scale = x[resistor] / (turns(x[known]) - turns(x[shorted]));
    const Complex rest = scale * turns(x[shorted]);  // rho + l
    if (given.same) b.reference = scale / b.gain;
    b.gain = scale / b.reference;
    b.leads = rest - b.reference;
  } else if (given.known) {
    const Complex load = x[resistor] + x[leads];
    if (given.same)
      b.reference = load / (b.gain * turns(x[known]) - 1.0);
    else
      b.gain = (load + b.reference) / (b.reference * turns(x[known]));
  } else if (given.shorted) {
    b.leads = b.reference * (b.gain * turns(x[shorted]) - 1.0);
  }
  b.impedance = b.gain * b.reference * turns(x[ratio]) - (b.reference + b.leads);
  return b;
}

Setup setup(const Values& x, const Given& given) {
  return given.at_load() ? setup_at_load(x, given) : setup_at_reference(x, given);
}

Complex impedance_of(const Values& x, const Given& given) { return setup(x, given).impedance; }

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
         "counts in the uncertainty (one signal on both channels, or the input's resistance, tells "
         "it)";
}

std::string short_note(const Given& given) {
  if (given.at_load() || given.same || given.known)
    return "short: removes the series impedance of leads and contacts";
  return "short: removes the series impedance of leads and contacts, as far as the channels' gains "
         "are alike (one signal on both channels tells it)";
}

std::string known_note(const Given& given) {
  if (given.whole_is_recorded() || (!given.at_load() && given.shorted))
    return "known resistor: replaces the reference's value as the scale";
  return "known resistor: removes the channels' gain and phase mismatch";
}

std::vector<std::string> removed(const Given& given) {
  std::vector<std::string> notes;
  const bool overruled = given.known && (given.at_load() ? given.open : given.shorted);
  if (given.same && !overruled)
    notes.push_back("same signal on both channels: removes their gain and phase mismatch");
  if (given.open) notes.push_back(open_note(given));
  if (given.shorted) notes.push_back(short_note(given));
  if (given.known) notes.push_back(known_note(given));
  if (std::isfinite(given.input_ohm))
    notes.push_back("input resistance of " + number_text(given.input_ohm) +
                    " ohm: its loading is removed");
  return notes;
}

/// Of gains, leads and the input's loading, what no recording and no option tells.
std::vector<std::string> assumptions(const Given& given, const ImpedanceOptions& options) {
  std::vector<std::string> texts;
  const bool gain_told = given.same || given.known || (given.at_load() && given.open);
  if (!gain_told && options.mismatch_percent > 0)
    texts.push_back("channel gains alike within " + number_text(options.mismatch_percent) + " %");
  if (!given.shorted && options.lead_limit_ohm > 0)
    texts.push_back("leads and contacts of up to " + number_text(options.lead_limit_ohm) + " ohm");
  const bool loading_told = std::isfinite(given.input_ohm) || given.loading_is_open() ||
                            (given.at_load() ? given.open && (given.same || given.known)
                                             : given.known && (given.same || given.shorted));
  if (!loading_told && std::isfinite(options.least_input_ohm))
    texts.push_back("an input of at least " + number_text(options.least_input_ohm / 1000) +
                    " kohm");
  return texts;
}

void check(const Transfer& measured, const Calibration& calibration,
           const ImpedanceOptions& options) {
  const auto positive = [](double ohm, const char* what) {
    if (!(ohm > 0))
      throw InputError(std::string(what) + " of " + number_text(ohm) + " ohm is not allowed",
                       "give a positive resistance in ohm");
  };
  positive(options.reference_ohm, "a reference");
  if (!std::isfinite(options.reference_ohm))
    throw InputError("the reference is not finite", "give its resistance in ohm");
  positive(options.input_ohm, "an input resistance");
  positive(options.least_input_ohm, "a least input resistance");
  if (!(options.lead_limit_ohm >= 0 && std::isfinite(options.lead_limit_ohm)))
    throw InputError(
        "leads and contacts of " + number_text(options.lead_limit_ohm) + " ohm are not allowed",
        "give zero or more");
  if (calibration.known) positive(calibration.known_ohm, "a known resistor");
  for (const double percent : {options.reference_tolerance_percent, options.mismatch_percent,
                               calibration.known_tolerance_percent})
    if (!(percent >= 0 && percent < 100))
      throw InputError("a tolerance of " + number_text(percent) + " % is not allowed",
                       "give 0 to 100");
  for (const auto* one :
       {&calibration.same, &calibration.open, &calibration.short_, &calibration.known})
    if (*one && ((*one)->frequency_hz.size() != measured.frequency_hz.size() ||
                 ((*one)->frequency_hz != measured.frequency_hz).any()))
      throw InputError("calibration and measurement stand on different frequencies",
                       "evaluate them with the same band and resolution");
}

/// The values that hold at every frequency, and their standard uncertainties: the channels' gain as
/// 1, an unloaded input and no leads, unless something is recorded of them.
void assume(const Calibration& calibration, const ImpedanceOptions& options, Values& x,
            std::array<double, inputs>& u) {
  x[same] = x[loading] = 1;
  u[same] = uncertainty_of_limit(options.mismatch_percent / 100);
  u[loading] = uncertainty_of_limit(options.reference_ohm /
                                    (options.reference_ohm + options.least_input_ohm));
  u[leads] = uncertainty_of_limit(options.lead_limit_ohm);
  x[reference] = options.reference_ohm;
  u[reference] =
      uncertainty_of_limit(options.reference_tolerance_percent / 100) * options.reference_ohm;
  x[resistor] = calibration.known_ohm;
  u[resistor] =
      uncertainty_of_limit(calibration.known_tolerance_percent / 100) * calibration.known_ohm;
}

/// The uncertainties of what was recorded alone.
std::array<double, inputs> random_of(
    const std::array<double, inputs>& u,
    const std::array<const std::optional<Transfer>*, 4>& recorded) {
  std::array<double, inputs> random{};
  random[ratio] = u[ratio];
  for (int c = 0; c < 4; ++c)
    if (*recorded[c]) random[same + c] = u[same + c];
  return random;
}

/// What stays open of the impedance's scale, relative: an open circuit that is crosstalk or
/// leakage.
double open_leakage(const Values& x, const Setup& setup, const Given& given) {
  return given.leakage_is_open() ? uncertainty_of_limit(std::abs(x[open] / setup.gain)) : 0;
}

/// By how much a known resistor and the reference disagree beyond what their limits, leads and
/// loading explain, as a relative standard uncertainty.
double open_disagreement(Complex reference_ratio, const Calibration& calibration,
                         const ImpedanceOptions& options) {
  if (!calibration.known) return 0;
  const double apart = std::abs(reference_ratio - 1.0);
  return uncertainty_of_limit(std::max(0.0, apart - disagreement_limit(calibration, options)));
}

}  // namespace

double disagreement_limit(const Calibration& calibration, const ImpedanceOptions& options) {
  return (options.reference_tolerance_percent + calibration.known_tolerance_percent) / 100 +
         options.reference_ohm / options.least_input_ohm +
         (calibration.short_ ? 0 : options.lead_limit_ohm / calibration.known_ohm);
}

MeasuredImpedance::MeasuredImpedance(Array hz, Array coherence_of, std::vector<std::string> notes)
    : frequency_hz(std::move(hz)),
      impedance_ohm(ComplexArray::Zero(frequency_hz.size())),
      uncertainty_ohm(Array::Zero(frequency_hz.size())),
      random_ohm(uncertainty_ohm),
      coherence(std::move(coherence_of)),
      share(impedance_ohm),
      removed(std::move(notes)),
      uncalibrated(uncertainty_ohm),
      gain(impedance_ohm),
      reference_ratio(impedance_ohm),
      leads_ohm(impedance_ohm) {}

MeasuredImpedance impedance(const Transfer& measured, const Calibration& calibration,
                            const ImpedanceOptions& options) {
  check(measured, calibration, options);
  const std::array<const std::optional<Transfer>*, 4> calibrations{
      &calibration.same, &calibration.open, &calibration.short_, &calibration.known};
  const Given given{options.wiring,
                    options.input_ohm,
                    calibration.same.has_value(),
                    calibration.open.has_value(),
                    calibration.short_.has_value(),
                    calibration.known.has_value()};
  const Index n = measured.frequency_hz.size();
  MeasuredImpedance result(measured.frequency_hz, measured.coherence, removed(given));
  result.assumed = assumptions(given, options);
  Values x{};
  std::array<double, inputs> u{};
  assume(calibration, options, x, u);
  const auto take = [&](int input, const Transfer& transfer, Index i) {
    x[input] = transfer.ratio[i];
    u[input] = transfer.uncertainty[i];
  };
  for (Index i = 0; i < n; ++i) {
    take(ratio, measured, i);
    for (int c = 0; c < 4; ++c)
      if (*calibrations[c]) take(same + c, **calibrations[c], i);
    if (given.loading_is_open())
      u[loading] = uncertainty_of_limit(
          std::max(0.0, 1 - std::abs(x[open]) / (1 + options.mismatch_percent / 100)));
    const Setup found = setup(x, given);
    const double size = std::abs(found.impedance);
    result.impedance_ohm[i] = found.impedance;
    result.reference_ratio[i] = found.reference / (x[reference] * unloaded(x, given));
    const double open_scale =
        std::hypot(open_leakage(x, found, given),
                   open_disagreement(result.reference_ratio[i], calibration, options));
    result.uncertainty_ohm[i] = std::hypot(uncertainty_of(x, u, given), size * open_scale);
    result.random_ohm[i] = uncertainty_of(x, random_of(u, calibrations), given);
    result.share[i] = found.impedance / (found.impedance + options.reference_ohm);
    result.gain[i] = found.gain;
    result.leads_ohm[i] = found.leads;
    if (given.same) continue;
    const double open_share = effect_of(x, same, u[same], given) / size;
    if (std::isfinite(open_share)) result.uncalibrated[i] = open_share;
  }
  return result;
}

}  // namespace ohmtilt
