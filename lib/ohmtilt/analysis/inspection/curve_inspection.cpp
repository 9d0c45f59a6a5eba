#include <fmt/format.h>
#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/curve/curve_errors.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/measurement_noise.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr double source_ohm = 6;

std::optional<double> magnitude_at(const ImpedanceCurve& curve, double hz) {
  const Band range = curve.range();
  if (hz < range.low_hz * (1 - 1e-9) || hz > range.high_hz * (1 + 1e-9)) return {};
  const LogInterpolator ln_z(curve.frequency_hz(), curve.magnitude_ohm().log());
  return std::exp(ln_z.at(std::clamp(hz, range.low_hz, range.high_hz)));
}

/// The band that `deviation` takes by itself, or the curve's own where it has none of it.
Band compared_band(const ImpedanceCurve& curve) {
  const Band range = curve.range(), audio;
  const Band common{std::max(range.low_hz, audio.low_hz), std::min(range.high_hz, audio.high_hz)};
  return common.low_hz < common.high_hz ? common : range;
}

/// 1 kHz, or the middle of a band without it.
AnchorFrequency compared_anchor(const Band& band) {
  return {band.contains(1000) ? 1000 : std::sqrt(band.low_hz * band.high_hz)};
}

/// Half of what any passive phase would leave open of a curve whose phase cannot be computed.
double any_phase_db(const ImpedanceCurve& curve, const Band& band) {
  const DeviationGrid grid = deviation_grid(band, 480, compared_anchor(band), curve.range());
  const Array hz = grid.all_hz(),
              ohm = LogInterpolator(curve.frequency_hz(), curve.magnitude_ohm().log()).at(hz).exp();
  const DeviationBand open =
      guaranteed_band(grid, ohm, resistive_source(0).at(hz), resistive_source(source_ohm).at(hz));
  return (open.upper_db - open.lower_db).maxCoeff() / 2;
}

/// How uncertain the deviation is, and what would help most ("less noise and the phase").
struct Whole {
  double db = 0;
  std::string needed;
};

std::string needed(const IntervalParts& parts) {
  std::string words;
  const std::vector<IntervalCause> all = causes(parts);
  for (const IntervalCause& cause : all)
    if (cause.most_db > 0.5 * all[0].most_db && words.find(cause.needed) == std::string::npos)
      words += (words.empty() ? "" : " and ") + std::string(cause.needed);
  return words;
}

Whole whole_95_db(const ImpedanceCurve& curve) {
  const Band band = compared_band(curve);
  if (!curve.has_phase() && !has_minimum_phase(curve.range()))
    return {any_phase_db(curve, band), "the phase"};
  ComparisonOptions how;
  how.band = band;
  how.anchor = compared_anchor(band);
  const Comparison compared = compare_sources(earphone_from_curve(curve), resistive_source(0),
                                              {resistive_source(source_ohm)}, how);
  const DeviationInterval& interval = *compared.cases[0].interval;
  return {interval.whole_95_db, needed(interval.parts)};
}

bool states_uncertainty(const ImpedanceCurve& curve) {
  return curve.has_uncertainty() || curve.notes().scale_uncertainty_percent > 0;
}

bool has_finding(const CurveInspection& seen, const std::vector<std::string>& kinds) {
  return std::any_of(seen.findings.begin(), seen.findings.end(), [&](const Finding& finding) {
    return std::find(kinds.begin(), kinds.end(), finding.kind) != kinds.end();
  });
}

/// The peaks that neither noise (six standard deviations from crest to trough) nor an outlier
/// makes.
std::vector<ImpedanceAt> resonances(const ImpedanceCurve& curve, const CurveInspection& seen) {
  std::vector<double> outliers;
  for (const Finding& finding : seen.findings)
    if (finding.kind == "outlier") outliers = finding.where_hz;
  std::vector<ImpedanceAt> found;
  for (const Peak& peak : magnitude_peaks(curve, std::max(0.02, 0.06 * seen.noise_percent)))
    if (std::find(outliers.begin(), outliers.end(), curve.frequency_hz()[peak.index]) ==
        outliers.end())
      found.push_back({peak.hz, peak.ohm});
  return found;
}

/// Whether causality() has enough to go by.
bool testable(const ImpedanceCurve& curve) {
  return curve.has_phase() && curve.points() >= 8 &&
         std::log2(curve.range().high_hz / curve.range().low_hz) > 1;
}

/// A failed test of causality is a finding, unless one before it already explains it.
void add_causality(CurveInspection& seen) {
  if (!seen.causality || seen.causality->verdict == Causality::Verdict::consistent) return;
  if (has_finding(seen, {"not-passive", "phase-sign", "phase-radians", "kilohertz"})) return;
  const bool sure = seen.causality->verdict == Causality::Verdict::inconsistent;
  seen.findings.push_back(
      {"not-causal",
       fmt::format("magnitude and phase {} of one passive earphone (Kramers-Kronig)",
                   sure ? "cannot be" : "are hardly those"),
       {},
       "look for a swapped or shifted column, or for a change between two measurements"});
}

/// Faults that make every result wrong, not just less certain.
bool unusable(const CurveInspection& seen) {
  return has_finding(seen, {"not-passive", "phase-sign", "phase-radians", "kilohertz", "kilohm",
                            "looks-like-response"}) ||
         (seen.causality && seen.causality->verdict == Causality::Verdict::inconsistent);
}

/// "±0.06 dB", two digits; finer than 0.01 dB nothing is quoted.
std::string within(double db) {
  return db < 0.01 ? "less than ±0.01 dB" : fmt::format("±{:.2g} dB", db);
}

constexpr double fine_db = 0.2, rough_db = 0.5;  // common practice, no source

/// The sentences for a curve that is not faulty throughout.
void add_usable_verdict(const ImpedanceCurve& curve, const std::string& needed,
                        CurveInspection& seen) {
  const bool stray = has_finding(seen, {"outlier", "step"});
  const bool doubtful = has_finding(seen, {"not-causal"});
  const bool rough = doubtful || seen.whole_95_db >= rough_db;
  const bool fine = !rough && seen.whole_95_db < fine_db;
  seen.for_reviewer = fmt::format(
      "The curve's gaps, noise and {} add {} to a deviation at 6 ohm{} (95 %, the whole curve); "
      "{}{}.",
      curve.has_phase() ? "digits" : "missing phase", within(seen.whole_95_db),
      has_finding(seen, {"band-missing"}) ? " within its own band" : "",
      states_uncertainty(curve) ? "the uncertainty that its file states is in that"
                                : "the instrument's error comes on top",
      stray ? ", and the stray points are to be measured again before it is quoted" : "");
  if (rough)
    seen.for_designer = doubtful ? "Do not design on it before it is clear what the findings say."
                                 : "Too uncertain to design on: it needs " + needed + ".";
  else if (!fine)
    seen.for_designer = "Good for a first design; before values are fixed it needs " + needed + ".";
  else if (has_finding(seen, {"outlier", "step", "sparse", "noisy", "quantised", "band-missing"}))
    seen.for_designer =
        "Good for a first design; measure again as the findings say before values are fixed.";
  else
    seen.for_designer = "Good enough to fit a circuit and to design on.";
  seen.for_owner =
      fmt::format("What it predicts for your source is {}{}.",
                  rough  ? "a rough guide"
                  : fine ? "about right"
                         : "right to a few tenths of a decibel",
                  stray ? ", and may be wrong where the curve jumps or a point stands off it" : "");
}

void add_verdict(const ImpedanceCurve& curve, const std::string& needed, CurveInspection& seen) {
  seen.usable = !unusable(seen);
  if (seen.usable) return add_usable_verdict(curve, needed, seen);
  seen.for_reviewer =
      "Do not quote results from this curve: it cannot be an earphone's impedance as it stands.";
  seen.for_designer = "Mend the file as the findings say before anything is designed on it.";
  seen.for_owner = "The file is faulty; get another one before you trust what it predicts.";
}

}  // namespace

CurveInspection inspect(const ImpedanceCurve& curve, const InspectionOptions& options) {
  CurveInspection seen;
  const Band range = curve.range();
  const Array &hz = curve.frequency_hz(), &ohm = curve.magnitude_ohm();
  seen.points_an_octave =
      static_cast<double>(curve.points() - 1) / std::log2(range.high_hz / range.low_hz);
  seen.at_20_hz_ohm = magnitude_at(curve, 20);
  seen.at_1_khz_ohm = magnitude_at(curve, 1000);
  seen.at_20_khz_ohm = magnitude_at(curve, 20000);
  Index low = 0, high = 0;
  seen.lowest.ohm = ohm.minCoeff(&low);
  seen.highest.ohm = ohm.maxCoeff(&high);
  seen.lowest.hz = hz[low];
  seen.highest.hz = hz[high];
  seen.dc_ohm = curve.has_phase() ? curve.impedance_ohm()[0].real() : ohm[0];
  seen.rated_ohm = seen.lowest.ohm / 0.8;
  if (options.rated_ohm) seen.rated_conforms = seen.lowest.ohm >= 0.8 * *options.rated_ohm;
  seen.noise_percent = noise_percent(curve);
  if (testable(curve)) seen.causality = causality(curve, options.causality);
  seen.findings = findings(curve, options.findings);
  add_causality(seen);
  seen.resonances = resonances(curve, seen);
  seen.passive = !has_finding(seen, {"not-passive"});
  const Whole whole = whole_95_db(curve);
  seen.whole_95_db = whole.db;
  seen.hidden_q = hidden_quality(curve);
  const bool more =
      has_finding(seen, {"sparse"}) && whole.needed.find("points") == std::string::npos;
  add_verdict(curve, (more ? "more points and " : "") + whole.needed, seen);
  return seen;
}

}  // namespace ohmtilt
