#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/flat_tops.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>

namespace ohmtilt {
namespace {

// Limits are common practice, no source.
constexpr double silent_dbfs = -96;
constexpr double low_dbfs = -66;
constexpr double clock_limit_ppm = 20;
constexpr double far_share = 0.02;
constexpr double distortion_limit = 1e-3;
constexpr double uncalibrated_limit = 0.01;
constexpr long long least_flat_tops = 4;
constexpr double least_delay_seconds = 2.5e-6, worst_delay_seconds = 10e-6;
constexpr double inconsistent_deg = 1;
constexpr double worst_disagreement = 1.25;  // of a known resistor and the reference, a ratio
constexpr double worst_gain = 1.41;
constexpr double uneven_db = 3;
constexpr double band_end_db = 20;
constexpr double early_limit = 1e-3;
constexpr double gains_moved = 0.003, noise_factor = 6;

std::string whole(double value) { return number_text(std::round(value)); }

void level_findings(const ChannelLevel& level, int channel, double silence,
                    std::vector<RecordingFinding>& findings) {
  const std::string name = "channel " + std::to_string(channel);
  const double db = db_from_amplitude(std::max(level.loudest_rms, 1e-12));
  if (level.clipped_runs > 0)
    findings.push_back({"clipping",
                        name + " is clipped in " + std::to_string(level.clipped_runs) +
                            " places; lower the recording level",
                        true});
  if (level.loudest_rms < silence)
    findings.push_back({"silent", name + " is silent; check the wiring and the inputs", true});
  else if (db < low_dbfs)
    findings.push_back(
        {"low-level",
         name + " reaches only " + whole(db) + " dB of full scale; raise the recording level",
         false});
}

void clock_finding(double clock_ppm, std::vector<RecordingFinding>& findings) {
  if (clock_ppm > clock_limit_ppm)
    findings.push_back({"clock",
                        "playback and recording clocks differ by about " + whole(clock_ppm) +
                            " millionths; use one device for both",
                        false});
}

/// Flat tops below full scale.
void flat_top_finding(const Recording& recording, int channel,
                      std::vector<RecordingFinding>& findings) {
  const auto c = static_cast<std::size_t>(channel - 1);
  if (recording.levels[c].clipped_runs > 0) return;
  const double step = recording.floating ? 0 : std::exp2(1 - recording.bits);
  const auto& samples = recording.channels[c];
  const long long tops = flat_tops(samples, step, quietest_rms(samples, recording.rate_hz));
  if (tops < least_flat_tops) return;
  findings.push_back({"clipping",
                      "channel " + std::to_string(channel) + " was clipped in " +
                          std::to_string(tops) +
                          " places below full scale, by an input or before it was made louder or "
                          "softer; lower the level at the source or the input, and record again",
                      true});
}

/// "-43 dB", or "none seen" for nothing above the noise.
std::string distortion_text(double share) {
  return share > 0 ? whole(db_from_amplitude(share)) + " dB" : "none seen";
}

}  // namespace

std::vector<RecordingFinding> recording_findings(const Recording& recording, Expected expected) {
  std::vector<RecordingFinding> findings;
  const double steps = recording.floating ? 0 : 1.5 * std::exp2(1 - recording.bits);
  const double silence = std::max(steps, amplitude_from_db(silent_dbfs));
  level_findings(recording.levels[0], 1, silence, findings);
  flat_top_finding(recording, 1, findings);
  if (expected == Expected::both) {
    level_findings(recording.levels[1], 2, silence, findings);
    flat_top_finding(recording, 2, findings);
  }
  if (!recording.dropout_seconds.empty())
    findings.push_back({"dropout",
                        "the sound drops out " + std::to_string(recording.dropout_seconds.size()) +
                            " times, first at " +
                            number_text(std::round(recording.dropout_seconds[0] * 1000) / 1000) +
                            " s; record again with larger buffers",
                        false});
  return findings;
}

std::vector<RecordingFinding> transfer_findings(const Transfer& transfer, bool alike_allowed) {
  std::vector<RecordingFinding> findings;
  if (!transfer.mains_hz.empty()) {
    std::vector<std::string> lines;
    for (const double hz : transfer.mains_hz) lines.push_back(number_text(hz));
    findings.push_back({"mains",
                        "mains hum at " + listed(lines) +
                            " Hz was left out and bridged from both sides; look for a ground loop",
                        false});
  }
  if (transfer.halves_apart > 0)
    findings.push_back({"halves",
                        "the recording's second half differs from its first by " +
                            number_text(std::round(1000 * transfer.halves_apart) / 10) +
                            " %: a gain that changed while it played (automatic gain, noise "
                            "suppression) or a loose contact, which counts in the "
                            "uncertainty; switch such off and record again",
                        false});
  if (!alike_allowed && percentile((transfer.ratio - 1.0).abs(), 0.5) < 1e-4)
    findings.push_back({"same-channels",
                        "both channels carry the same signal; one must lie across the earphone (or "
                        "the reference) alone",
                        true});
  return findings;
}

namespace {

void lost_samples_finding(const Drift& drift, std::vector<RecordingFinding>& findings) {
  findings.push_back(
      {"lost-samples",
       "the recording jumps by " +
           number_text(std::round(1e5 * std::abs(drift.step_seconds)) / 100) + " ms near " +
           whole(drift.step_hz) +
           " Hz: samples were lost or added; record again with larger buffers and no other load",
       false});
}

void harmonics_finding(const SweepHarmonics& harmonics, std::vector<RecordingFinding>& findings) {
  if (harmonics.third.size() == 0) return;
  const double second = harmonics.second.maxCoeff(), third = harmonics.third.maxCoeff();
  if (third < distortion_limit && second < 3 * distortion_limit) return;
  findings.push_back(
      {"distortion",
       "one channel distorts otherwise than the other (second harmonic " + distortion_text(second) +
           ", third " + distortion_text(third) +
           " of the signal at most): an input is overdriven or limits, or the earphone is driven "
           "too hard; the third counts three times in the uncertainty, and a lower level has less "
           "of it",
       false});
}

/// Where the first channel falls by band_end_db below its median and stays there; 0 where it does
/// not.
double band_end_hz(const Transfer& transfer) {
  const Array& level = transfer.first_level_db;
  if (level.size() < 12) return 0;
  const double least = percentile(level, 0.5) - band_end_db;
  Eigen::Index last = level.size() - 1;
  while (last > 0 && level[last] < least) --last;
  return last + 1 < level.size() && transfer.frequency_hz[last] > 1000 ? transfer.frequency_hz[last]
                                                                       : 0;
}

void band_finding(const Transfer& transfer, std::vector<RecordingFinding>& findings) {
  const double end_hz = band_end_hz(transfer);
  if (!(end_hz > 0)) return;
  findings.push_back(
      {"band-limited",
       "nothing was recorded above " + whole(end_hz / 100) +
           "00 Hz: lossy coding or "
           "another sample rate on the way; record WAV at the stimulus's rate, without "
           "compression",
       false});
}

/// Where a quarter of the frequencies hold something before the response, it is no lone line.
void early_finding(const Array& early, std::vector<RecordingFinding>& findings) {
  const double usual = early.size() > 0 ? percentile(early, 0.75) : 0;
  if (usual < early_limit) return;
  findings.push_back({"coded",
                      "sound comes before its own response (" + whole(db_from_amplitude(usual)) +
                          " dB): lossy coding or noise suppression on the way; record WAV, without "
                          "compression, radio or effects",
                      false});
}

}  // namespace

std::vector<RecordingFinding> sweep_findings(const SweepTransfer& sweep) {
  std::vector<RecordingFinding> findings;
  if (std::abs(sweep.drift.step_seconds) > 0 && sweep.drift.clock_ppm > clock_limit_ppm)
    lost_samples_finding(sweep.drift, findings);
  else
    clock_finding(sweep.drift.clock_ppm, findings);
  harmonics_finding(sweep.harmonics, findings);
  band_finding(sweep.transfer, findings);
  early_finding(sweep.early, findings);
  if (sweep.harmonic_seconds < fast_octave_seconds)
    findings.push_back({"fast-sweep",
                        "the sweep passes an octave in " +
                            number_text(std::round(sweep.harmonic_seconds * 1000) / 1000) +
                            " s, too fast to keep harmonics apart; use a longer one",
                        false});
  return findings;
}

std::vector<RecordingFinding> tone_findings(const ToneGains& gains) {
  std::vector<RecordingFinding> findings;
  const auto tenths = [](double db) { return number_text(std::round(10 * std::abs(db)) / 10); };
  const auto& follows = gains.more_when_soft_db;
  if (follows[0] != 0 || follows[1] != 0) {
    const std::size_t most = std::abs(follows[1]) > std::abs(follows[0]) ? 1 : 0;
    findings.push_back(
        {"automatic-gain",
         "channel " + std::to_string(most + 1) + " has " + tenths(follows[most]) + " dB " +
             (follows[most] > 0 ? "more" : "less") + " gain for a tone " +
             number_text(test_tone_step_db) +
             " dB softer: automatic gain, a limiter or noise suppression is on, which counts in "
             "the uncertainty; switch it off and record all again",
         false});
  }
  if (gains.drift_db != 0)
    findings.push_back({"halves",
                        "channel 2's gain over channel 1's " +
                            std::string(gains.drift_db > 0 ? "rose" : "fell") + " by " +
                            tenths(gains.drift_db) +
                            " dB while it played: automatic gain or a loose contact, which counts "
                            "in the uncertainty; switch such off and record again",
                        false});
  return findings;
}

std::vector<RecordingFinding> periodic_findings(const PeriodicTransfer& periodic) {
  std::vector<RecordingFinding> findings;
  clock_finding(periodic.clock_ppm, findings);
  if (std::max(periodic.even_distortion, periodic.odd_distortion) > distortion_limit)
    findings.push_back(
        {"distortion",
         "channel 2 holds distortion (even orders " + distortion_text(periodic.even_distortion) +
             ", odd orders " + distortion_text(periodic.odd_distortion) +
             " of the signal); even orders stay off the lines of the stimulus, odd ones count in "
             "the uncertainty, and a lower level has less of both",
         false});
  return findings;
}

namespace {

/// Of a passive load |Z/(Z + R)| is below 1 at every frequency. Swapped channels read above 1
/// throughout; more gain in the second one need not.
void whole_finding(const Array& part, std::vector<RecordingFinding>& findings) {
  const bool throughout = percentile(part, 0.05) > 1.02;
  findings.push_back(
      {throughout ? "swapped" : "gain",
       throughout ? "channel 2 is larger than channel 1: the channels look swapped, or channel 2 "
                    "has more gain; exchange them, or record one signal on both"
                  : "channel 2 is larger than channel 1 at some frequencies: it has more gain; set "
                    "both inputs alike, or record one signal on both",
       true, true});
}

}  // namespace

std::vector<RecordingFinding> impedance_findings(const MeasuredImpedance& impedance) {
  std::vector<RecordingFinding> findings;
  const Array part = impedance.share.abs(), other = (1.0 - impedance.share).abs();
  const double share = percentile(part, 0.5), rest = percentile(other, 0.5);
  if (share > 1.02 || rest > 1.02)
    whole_finding(share > rest ? part : other, findings);
  else if (rest < far_share)
    findings.push_back({"reference-small",
                        "the reference is small against the impedance, which magnifies errors; use "
                        "one nearer to it",
                        false});
  else if (share < far_share)
    findings.push_back({"reference-large",
                        "the reference is large against the impedance, which leaves little signal; "
                        "use one nearer to it",
                        false});
  if (const double most = impedance.uncalibrated.maxCoeff(); most >= uncalibrated_limit)
    findings.push_back({"uncalibrated",
                        "no calibration tells the channels' gains apart: taken as alike within the "
                        "limit assumed, they leave up to " +
                            number_text(std::round(1000 * most) / 10) +
                            " % of |Z| open (one standard uncertainty, in uncertainty_ohm); record "
                            "one signal on both channels",
                        false, true});
  return findings;
}

namespace {

double middle(const std::optional<Transfer>& transfer) {
  return percentile(transfer->ratio.abs(), 0.5);
}

/// An open circuit reads all at the earphone and nothing at the reference, a short the other way.
void exchange_finding(const Calibration& calibration, bool at_load,
                      std::vector<RecordingFinding>& findings) {
  const auto& high = at_load ? calibration.open : calibration.short_;
  const auto& low = at_load ? calibration.short_ : calibration.open;
  const bool both = high && low;
  if (both ? middle(high) > middle(low)
           : !(high && middle(high) < 0.3) && !(low && middle(low) > 0.7))
    return;
  findings.push_back({"exchanged",
                      both
                          ? "the recordings of the open and of the short look exchanged; give each "
                            "to its own option"
                          : "the recording of the open or the short reads like the other one; "
                            "record it again, and check which wiring it is",
                      true});
}

bool beyond(double ratio, double limit) { return ratio > limit || ratio < 1 / limit; }

void known_finding(const MeasuredImpedance& impedance, const Calibration& calibration,
                   const ImpedanceOptions& options, std::vector<RecordingFinding>& findings) {
  const double ratio = percentile(impedance.reference_ratio.abs(), 0.5);
  const double limits = disagreement_limit(calibration, options);
  if (!beyond(ratio, 1.02 + limits)) return;
  findings.push_back({"known-disagrees",
                      "by the known resistor of " + number_text(calibration.known_ohm) +
                          " ohm the reference is " +
                          number_text(std::round(1000 * ratio * options.reference_ohm) / 1000) +
                          " ohm, not " + number_text(options.reference_ohm) + "; check both values",
                      beyond(ratio, worst_disagreement)});
}

void gain_finding(double gain, const Calibration& calibration, const ImpedanceOptions& options,
                  std::vector<RecordingFinding>& findings) {
  if (!beyond(gain, 1.005 + options.mismatch_percent / 100)) return;
  const bool refuses = calibration.known && beyond(gain, worst_gain);
  findings.push_back(
      {refuses ? "known-disagrees" : "gain",
       "the calibrations make channel 2's gain " +
           number_text(std::round(100 * db_from_amplitude(gain)) / 100) +
           " dB over channel 1's, beyond the " + number_text(options.mismatch_percent) +
           " % assumed of one device; " +
           (refuses
                ? "check the known resistor's value and the wiring, or record one signal on both "
                  "channels"
                : "record one signal on both channels"),
       refuses, true});
}

}  // namespace

std::vector<RecordingFinding> calibration_findings(const MeasuredImpedance& impedance,
                                                   const Calibration& calibration,
                                                   const ImpedanceOptions& options) {
  std::vector<RecordingFinding> findings;
  const bool at_load = options.wiring == Wiring::load;
  exchange_finding(calibration, at_load, findings);
  if (calibration.known) known_finding(impedance, calibration, options, findings);
  if (!calibration.same)
    gain_finding(percentile(impedance.gain.abs(), 0.5), calibration, options, findings);
  return findings;
}

namespace {

RecordingFinding delay_finding(double seconds) {
  const bool refuses = std::abs(seconds) > worst_delay_seconds;
  const std::string late = seconds > 0 ? "channel 2" : "channel 1";
  const std::string other = seconds > 0 ? "channel 1" : "channel 2";
  return {"delay",
          late + " comes " + number_text(std::round(1e7 * std::abs(seconds)) / 10) +
              " microseconds after " + other +
              (refuses ? "" : ", which counts in the uncertainty") +
              "; with the same settings, record one signal on both channels",
          refuses, true};
}

}  // namespace

std::vector<RecordingFinding> consistency_findings(const RatioConsistency& consistency) {
  if (std::abs(consistency.offset_deg) > 90)
    return {{"inverted",
             "channel 2 is inverted against channel 1; exchange the two wires of one input, or "
             "switch off the inversion",
             true}};
  if (std::abs(consistency.delay_seconds) > least_delay_seconds)
    return {delay_finding(consistency.delay_seconds)};
  if (consistency.residual_deg > inconsistent_deg + 3 * consistency.expected_deg)
    return {{"inconsistent",
             "magnitude and phase of the ratio do not belong together (" +
                 number_text(std::round(10 * consistency.residual_deg) / 10) +
                 " degrees apart): a gain that changed while it played (automatic gain, noise "
                 "suppression), effects, or lossy coding; switch them off and record again",
             false}};
  if (consistency.active_share > 0.02)
    return {
        {"active",
         "the resistance comes out negative at " + whole(100 * consistency.active_share) +
             " % of the frequencies, which no earphone has; check the wiring, the gains and the "
             "reference's value",
         false}};
  return {};
}

double unevenness_db(const Transfer& measured, const MeasuredImpedance& impedance,
                     double reference_ohm) {
  if (measured.first_level_db.size() == 0) return 0;
  const ComplexArray whole = impedance.impedance_ohm + reference_ohm;
  double least = std::numeric_limits<double>::infinity();
  for (double source_ohm = 0; source_ohm < 2000; source_ohm = 1.5 * source_ohm + 0.5) {
    double low = least, high = -least;
    low = std::numeric_limits<double>::infinity(), high = -low;
    for (Eigen::Index i = 0; i < whole.size(); ++i) {
      if (measured.frequency_hz[i] < 100 || measured.frequency_hz[i] > 10e3) continue;
      const double level = measured.first_level_db[i] -
                           db_from_amplitude(std::abs(whole[i] / (whole[i] + source_ohm)));
      low = std::min(low, level);
      high = std::max(high, level);
    }
    least = std::min(least, high - low);
  }
  return std::isfinite(least) ? std::max(least, 0.0) : 0;
}

namespace {

/// "channel 1's gain by -2 dB", or of the volume.
std::string moved_text(const MovedGain& moved) {
  const std::string what = moved.which == MovedGain::Which::volume  ? "the volume"
                           : moved.which == MovedGain::Which::first ? "channel 1's gain"
                                                                    : "channel 2's gain";
  return what + " by " + number_text(std::round(10 * moved.db) / 10) + " dB";
}

}  // namespace

std::vector<RecordingFinding> level_findings(const LevelCheck& check) {
  if (check.moved.empty()) return {};
  std::string moves;
  for (const MovedGain& one : check.moved)
    moves += (moves.empty() ? "" : ", or ") + moved_text(one);
  return {
      {"gain-changed",
       "channel 1's level does not follow from the calibration's: it would if something had moved "
       "(" +
           moves +
           "), or automatic gain is on, or the calibration was loaded otherwise; what the inputs' "
           "gains leave open counts in the uncertainty, and calibrations recorded again without "
           "touching volume and gains settle it",
       false}};
}

double gain_change(const Transfer& same, const Transfer& again) {
  return percentile((again.ratio / same.ratio).abs(), 0.5);
}

std::vector<RecordingFinding> again_findings(const Transfer& same, const Transfer& again) {
  const double change = gain_change(same, again);
  const Array noise =
      (same.uncertainty.square() + again.uncertainty.square()).sqrt() / same.ratio.abs();
  if (std::abs(change - 1) < std::max(gains_moved, noise_factor * percentile(noise, 0.5)))
    return {};
  return {{"gain-changed",
           "channel 2's gain over channel 1's differs by " +
               number_text(std::round(100 * std::abs(db_from_amplitude(change))) / 100) +
               " dB between the same signal recorded before and after: one of them was moved in "
               "between or is automatic, which counts in the uncertainty; record all again without "
               "touching volume and gains",
           false}};
}

std::vector<RecordingFinding> evenness_findings(double unevenness_db) {
  if (unevenness_db < uneven_db) return {};
  return {{"uneven",
           "channel 1 varies by " + number_text(std::round(10 * unevenness_db) / 10) +
               " dB between 100 Hz and 10 kHz, more than a source does: automatic gain, an "
               "equalizer or effects are on; switch them off and record again",
           false}};
}

namespace {

/// What was seen before and may well be the cause; empty for nothing.
std::string suspects(const std::vector<RecordingFinding>& earlier) {
  std::string text;
  for (const RecordingFinding& one : earlier)
    for (const char* kind : {"distortion", "uneven", "coded", "halves", "gain-changed"})
      if (one.kind == kind) text += "; and " + one.text.substr(0, one.text.find(": "));
  return text;
}

}  // namespace

void refuse_by(const std::vector<RecordingFinding>& findings, const std::string& file,
               const std::vector<RecordingFinding>& earlier) {
  for (const RecordingFinding& finding : findings) {
    if (!finding.refuses) continue;
    const auto split = finding.text.find("; ");
    throw RefusedRecording(Place{file}, finding.text.substr(0, split) + suspects(earlier),
                           finding.text.substr(split + 2), finding.same_tells);
  }
}

}  // namespace ohmtilt
