#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/percentiles.h>
#include <ohmtilt/measure/findings.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

// Limits are common practice, no source.
constexpr double silent_dbfs = -96;
constexpr double low_dbfs = -66;
constexpr double clock_limit_ppm = 20;
constexpr double fast_octave_seconds = 0.2;
constexpr double far_share = 0.02;
constexpr double distortion_limit = 1e-3;
constexpr double uncalibrated_limit = 0.01;

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
  if (expected == Expected::both) level_findings(recording.levels[1], 2, silence, findings);
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
  if (!alike_allowed && percentile((transfer.ratio - 1.0).abs(), 0.5) < 1e-4)
    findings.push_back({"same-channels",
                        "both channels carry the same signal; one must lie across the earphone (or "
                        "the reference) alone",
                        true});
  return findings;
}

std::vector<RecordingFinding> sweep_findings(const SweepTransfer& sweep) {
  std::vector<RecordingFinding> findings;
  clock_finding(sweep.clock_ppm, findings);
  if (sweep.harmonic_seconds < fast_octave_seconds)
    findings.push_back({"fast-sweep",
                        "the sweep passes an octave in " +
                            number_text(std::round(sweep.harmonic_seconds * 1000) / 1000) +
                            " s, too fast to keep harmonics apart; use a longer one",
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

std::vector<RecordingFinding> impedance_findings(const MeasuredImpedance& impedance) {
  std::vector<RecordingFinding> findings;
  const double share = percentile(impedance.share.abs(), 0.5);
  const double rest = percentile((1.0 - impedance.share).abs(), 0.5);
  // Of a passive load |Z/(Z + R)| is below 1 at every frequency.
  if (share > 1.02 || rest > 1.02)
    findings.push_back({"swapped",
                        "the channels look swapped: the part is larger than the whole; exchange "
                        "them, or check the wiring",
                        true});
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
                        "no calibration tells the channels' gains apart, which leaves up to " +
                            number_text(std::round(1000 * most) / 10) +
                            " % of |Z| open (one standard uncertainty, in uncertainty_ohm); record "
                            "one signal on both channels for --calibrate-same",
                        false});
  return findings;
}

void refuse_by(const std::vector<RecordingFinding>& findings, const std::string& file) {
  for (const RecordingFinding& finding : findings) {
    if (!finding.refuses) continue;
    const auto split = finding.text.find("; ");
    throw InputError(Place{file}, finding.text.substr(0, split), finding.text.substr(split + 2));
  }
}

}  // namespace ohmtilt
