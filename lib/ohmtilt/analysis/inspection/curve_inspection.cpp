#include <fmt/format.h>
#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/base/decibel.h>
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

Index anchor_index(const ImpedanceCurve& curve) {
  const Band range = curve.range();
  const double hz = range.contains(1000) ? 1000 : std::sqrt(range.low_hz * range.high_hz);
  Index index = 0;
  (curve.frequency_hz().log() - std::log(hz)).abs().minCoeff(&index);
  return index;
}

/// Level at the terminals behind the source, in dB.
Array terminal_db(const ImpedanceCurve& curve, const Array& phase_deg) {
  const ComplexArray z = curve.with_phase(phase_deg).impedance_ohm();
  return -db_from_amplitude(Array((1.0 + source_ohm / z).abs()));
}

Array anchored(const Array& db, Index anchor) { return db - db[anchor]; }

/// dB by which the terminal level moves when Z moves by a relative amount of one in its worst
/// direction: |d ln(1 + R/Z) / d ln Z|.
Array sensitivity_db(const ImpedanceCurve& curve, const Array& phase_deg) {
  const ComplexArray z = curve.with_phase(phase_deg).impedance_ohm();
  return db_per_neper * (source_ohm / (z + source_ohm)).abs();
}

/// Largest over the band of what independent relative errors of Z at f and at the anchor do.
double moved_db(const Array& sensitivity, Index anchor, const Array& relative) {
  const Array moved = sensitivity * relative;
  return std::hypot(moved.maxCoeff(), moved[anchor]);
}

/// Of noise and of the uncertainty that the file states, two standard ones of each.
double random_db(const ImpedanceCurve& curve, const CurveInspection& seen, const Array& sensitivity,
                 Index anchor) {
  const Array noise = Array::Constant(curve.points(), 2 * seen.noise_percent / 100);
  const double noise_db = moved_db(sensitivity, anchor, noise);
  if (!curve.has_uncertainty()) return noise_db;
  const Array stated = 2 * curve.uncertainty_ohm() / curve.magnitude_ohm();
  return std::hypot(noise_db, moved_db(sensitivity, anchor, stated));
}

double phase_spread_db(const ImpedanceCurve& curve, Index anchor, const MinimumPhase& phase) {
  const Array best = anchored(terminal_db(curve, phase.phase_deg), anchor);
  Array lower = best, upper = best;
  for (const Array& other : phase.alternatives_deg) {
    const Array db = anchored(terminal_db(curve, other), anchor);
    lower = lower.min(db);
    upper = upper.max(db);
  }
  return (upper - lower).maxCoeff() / 2;
}

/// minimum_phase(), or on a range too short for it anything that a passive curve may have.
MinimumPhase inferred_phase(const ImpedanceCurve& curve) {
  if (std::log2(curve.range().high_hz / curve.range().low_hz) > 1) return minimum_phase(curve);
  const auto constant = [&curve](double deg) { return Array::Constant(curve.points(), deg); };
  return {constant(0), {constant(-90), constant(90)}};
}

double uncertainty(const ImpedanceCurve& curve, const CurveInspection& seen) {
  const Index anchor = anchor_index(curve);
  if (curve.has_phase()) {
    const Array sensitivity = sensitivity_db(curve, curve.phase_deg());
    const double residual = seen.causality ? seen.causality->rms_residual_percent / 100 : 0;
    return std::hypot(random_db(curve, seen, sensitivity, anchor),
                      moved_db(sensitivity, anchor, Array::Constant(curve.points(), residual)));
  }
  const MinimumPhase phase = inferred_phase(curve);
  const Array sensitivity = sensitivity_db(curve, phase.phase_deg);
  return std::hypot(random_db(curve, seen, sensitivity, anchor),
                    phase_spread_db(curve, anchor, phase));
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

/// Faults that make every result wrong, not just less certain.
bool unusable(const CurveInspection& seen) {
  return has_finding(seen, {"not-passive", "phase-sign", "phase-radians", "kilohm",
                            "looks-like-response"}) ||
         (seen.causality && seen.causality->verdict == Causality::Verdict::inconsistent);
}

void add_verdict(CurveInspection& seen) {
  if (unusable(seen)) {
    seen.for_reviewer =
        "Do not quote results from this curve: it cannot be an earphone's impedance "
        "as it stands.";
    seen.for_designer = "Mend the file as the findings say before anything is designed on it.";
    seen.for_owner = "The file is faulty; get another one before you trust what it predicts.";
    return;
  }
  // Finer than that nothing is quoted: instruments and seals differ by more.
  const std::string within = fmt::format("{:.2g} dB", std::max(seen.uncertainty_db, 0.01)) +
                             (has_finding(seen, {"band-missing"}) ? " within its own band" : "");
  seen.for_reviewer = "Deviations at 6 ohm from this curve can be quoted to " + within + ".";
  seen.for_designer =
      has_finding(seen, {"outlier", "step", "sparse", "noisy", "quantised", "band-missing"})
          ? "Good for a first design; measure again where the findings say before values are fixed."
          : "Good enough to fit a circuit and to design on.";
  seen.for_owner = seen.uncertainty_db < 0.5 ? "What it predicts for your source is about right."
                                             : "What it predicts for your source is a rough guide.";
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
  seen.findings = findings(curve);
  seen.resonances = resonances(curve, seen);
  seen.passive = !has_finding(seen, {"not-passive"});
  seen.uncertainty_db = uncertainty(curve, seen);
  add_verdict(seen);
  return seen;
}

}  // namespace ohmtilt
