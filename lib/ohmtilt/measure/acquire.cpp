#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <exception>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
using std::filesystem::path;

RecordingOptions reading(const TransferOptions& options, int channels, const Progress& progress) {
  RecordingOptions how;
  how.high_hz = options.band.high_hz;
  how.channels = channels;
  how.progress = progress;
  return how;
}

/// Runs work and keeps what it throws, so that of two works that fail side by side always the same
/// one is told of.
template <class Work>
std::exception_ptr kept(const Work& work) {
  try {
    work();
  } catch (...) {
    return std::current_exception();
  }
  return nullptr;
}

/// The stimulus as it was played, and its period where it has one.
struct Played {
  Recording recording;
  Index period;
};

/// Turns recordings into transfers, all in the same way, and keeps what was found in them.
class Evaluation {
 public:
  Evaluation(const AcquireFiles& files, const AcquireOptions& options,
             const ReadRecording& recording_of)
      : recording_of_(recording_of), options_(options.transfer), progress_(options.progress) {
    for (const auto* one : {&files.same, &files.open, &files.short_, &files.known, &files.again})
      if (*one) ++recordings_;
    if (!files.stimulus) return;
    std::exception_ptr in_stimulus, in_recording;
    parallel_invoke([&] { in_stimulus = kept([&] { read_stimulus(*files.stimulus); }); },
                    [&] { in_recording = kept([&] { measured_ = read(files.recording); }); });
    for (const auto& failure : {in_stimulus, in_recording})
      if (failure) std::rethrow_exception(failure);
  }

  Transfer transfer(const path& file, const std::string& role, Expected expected,
                    bool alike_allowed) {
    const Recording recording = measured_ ? std::move(*measured_) : read(file);
    measured_.reset();
    keep(recording_findings(recording, expected), file, role);
    options_.progress = part_of(progress_, done_ + share() / 2, done_ + share());
    Transfer result = evaluated(recording, file, role, expected);
    keep(transfer_findings(result, alike_allowed), file, role);
    done_ += share();
    tell(progress_, done_);
    return result;
  }

  std::vector<RecordingFinding> findings;

 private:
  double share() const { return 1.0 / recordings_; }

  Recording read(const path& file) const {
    return recording_of_(file,
                         reading(options_, 2, part_of(progress_, done_, done_ + share() / 2)));
  }

  void read_stimulus(const path& file) {
    stimulus_ = Played{recording_of_(file, reading(options_, 0, nullptr)), 0};
    stimulus_->period = repeated_frames(stimulus_->recording);
  }

  Transfer evaluated(const Recording& recording, const path& file, const std::string& role,
                     Expected expected) {
    if (!stimulus_) return transfer_by_averages(recording, options_);
    if (stimulus_->period > 0) {
      PeriodicTransfer periodic =
          transfer_by_periods(recording, stimulus_->recording, stimulus_->period, options_);
      keep(periodic_findings(periodic), file, role);
      judge_tones(recording, periodic.delay_seconds, expected, file, role, periodic.transfer);
      return std::move(periodic.transfer);
    }
    SweepTransfer sweep = transfer_by_sweep(recording, stimulus_->recording, options_);
    // Where the second channel rightly carries next to none, its harmonics and what comes early say
    // nothing.
    if (expected == Expected::first_only) {
      sweep.harmonics = {};
      sweep.early = {};
    }
    keep(sweep_findings(sweep), file, role);
    judge_tones(recording, sweep.delay_seconds, expected, file, role, sweep.transfer);
    return std::move(sweep.transfer);
  }

  /// What the stimulus's test tones say, and how far that leaves the ratio open.
  void judge_tones(const Recording& recording, double delay_seconds, Expected expected,
                   const path& file, const std::string& role, Transfer& transfer) {
    const ToneGains gains =
        tone_gains(recording, stimulus_->recording, delay_seconds, expected == Expected::both);
    keep(tone_findings(gains), file, role);
    const Array size = transfer.ratio.abs();
    const Array open = size * size.unaryExpr([&](double one) { return gains.ratio_error(one); });
    transfer.uncertainty = (transfer.uncertainty.square() + open.square()).sqrt();
  }

  void keep(const std::vector<RecordingFinding>& found, const path& file, const std::string& role) {
    refuse_by(found, file.string());
    for (RecordingFinding finding : found) {
      if (!role.empty()) finding.text = role + ": " + finding.text;
      findings.push_back(std::move(finding));
    }
  }

  const ReadRecording& recording_of_;
  TransferOptions options_;
  Progress progress_;
  std::optional<Played> stimulus_;
  std::optional<Recording> measured_;  ///< already read, beside the stimulus
  int recordings_ = 1;
  double done_ = 0;
};

Calibration calibration(const AcquireFiles& files, const AcquireOptions& options,
                        Evaluation& evaluation) {
  Calibration result;
  const bool at_load = options.impedance.wiring == Wiring::load;
  const auto both = Expected::both, first = Expected::first_only;
  if (files.same) result.same = evaluation.transfer(*files.same, "calibration, same", both, true);
  if (files.open)
    result.open =
        evaluation.transfer(*files.open, "calibration, open", at_load ? both : first, true);
  if (files.short_)
    result.short_ =
        evaluation.transfer(*files.short_, "calibration, short", at_load ? first : both, true);
  if (files.known)
    result.known = evaluation.transfer(*files.known, "calibration, known", both, false);
  if (files.again)
    result.again = evaluation.transfer(*files.again, "calibration, same again", both, true);
  result.known_ohm = options.known_ohm;
  result.known_tolerance_percent = options.known_tolerance_percent;
  return result;
}

std::vector<Index> usable_points(const MeasuredImpedance& measured, double least_coherence) {
  std::vector<Index> usable;
  for (Index i = 0; i < measured.frequency_hz.size(); ++i) {
    const double size = std::abs(measured.impedance_ohm[i]);
    if (measured.coherence[i] >= least_coherence && std::isfinite(size) && size > 0 &&
        std::isfinite(measured.uncertainty_ohm[i]))
      usable.push_back(i);
  }
  return usable;
}

std::string span_text(const Array& hz, const std::vector<Index>& usable) {
  double low = 0, high = 0;
  std::size_t next = 0;
  for (Index i = 0; i < hz.size(); ++i) {
    if (next < usable.size() && usable[next] == i) {
      ++next;
      continue;
    }
    if (low == 0) low = hz[i];
    high = hz[i];
  }
  return number_text(std::round(low * 10) / 10) + " and " +
         number_text(std::round(high * 10) / 10) + " Hz";
}

/// The usable frequencies alone.
MeasuredImpedance picked(const MeasuredImpedance& all, const std::vector<Index>& usable) {
  MeasuredImpedance result(all.frequency_hz(usable), all.coherence(usable), all.removed);
  result.impedance_ohm = all.impedance_ohm(usable);
  result.uncertainty_ohm = all.uncertainty_ohm(usable);
  result.random_ohm = all.random_ohm(usable);
  result.share = all.share(usable);
  result.uncalibrated = all.uncalibrated(usable);
  result.gain = all.gain(usable);
  result.reference_ratio = all.reference_ratio(usable);
  result.leads_ohm = all.leads_ohm(usable);
  return result;
}

/// What a small relative error of the ratio does to the impedance: |1 + Z/R| of it (|1 + R/Z| at
/// the reference).
void widen(const Array& relative, const ImpedanceOptions& options, MeasuredImpedance& result) {
  const ComplexArray whole = result.impedance_ohm + options.reference_ohm;
  const Array factor = options.wiring == Wiring::load
                           ? Array(result.impedance_ohm.abs() / options.reference_ohm)
                           : Array(Array::Ones(whole.size()));
  const Array moved = relative * whole.abs() * factor;
  result.uncertainty_ohm = (result.uncertainty_ohm.square() + moved.square()).sqrt();
}

/// By how much the impedance lies away if the ratio m is really `factor` m: Z = R m/(1 - m) at the
/// earphone by |factor - 1| |Z| / |1 - factor m|, Z = R (1 - m)/m at the reference by
/// |1/factor - 1| |Z + R|.
Array moved_ohm(double factor, const ImpedanceOptions& options, const MeasuredImpedance& result) {
  constexpr double least = 0.05;  // of 1 - m: a ratio of 1 has no bound
  const ComplexArray whole = result.impedance_ohm + options.reference_ohm;
  if (options.wiring == Wiring::reference) return std::abs(1 / factor - 1) * whole.abs();
  const Array rest = (1.0 - factor * result.impedance_ohm / whole).abs().max(least);
  return std::abs(factor - 1) * result.impedance_ohm.abs() / rest;
}

/// Widens by the farthest of some factors.
void widen_towards(const std::vector<double>& factors, const ImpedanceOptions& options,
                   MeasuredImpedance& result) {
  Array farthest = Array::Zero(result.frequency_hz.size());
  for (const double factor : factors) farthest = farthest.max(moved_ohm(factor, options, result));
  result.uncertainty_ohm = (result.uncertainty_ohm.square() + farthest.square()).sqrt();
}

/// A delay between the channels turns the ratio by w t.
void widen_by_delay(double seconds, const ImpedanceOptions& options, MeasuredImpedance& result) {
  widen((2 * std::numbers::pi * std::abs(seconds) * result.frequency_hz).min(2), options, result);
}

/// What is assumed of the gains since the calibrations, and how far the levels hold it.
std::string gain_assumption(const LevelCheck& check) {
  std::string seen = "nothing recorded checks it";
  if (check.possible) {
    seen = "by the levels the source then has " +
           number_text(std::round(10 * check.source_ohm) / 10) + " ohm";
    for (const auto& [within_db, channel] :
         {std::pair{check.first_within_db, "1"}, {check.second_within_db, "2"}})
      if (std::isfinite(within_db))
        seen += ", channel " + std::string(channel) + "'s gain is held to " +
                number_text(within_db) + " dB";
  }
  return "no gain moved since the calibrations (" + seen +
         "; one signal on both channels recorded again, last, checks it)";
}

/// Whether a gain moved between the recordings: by the same signal again, by the levels.
void judge_gains(const LevelCheck& levels, const Calibration& calibration,
                 const ImpedanceOptions& options, MeasuredImpedance& result,
                 std::vector<RecordingFinding>& findings) {
  const auto keep = [&](const std::vector<RecordingFinding>& found) {
    findings.insert(findings.end(), found.begin(), found.end());
  };
  if (calibration.again) {
    const auto found = again_findings(*calibration.same, *calibration.again);
    keep(found);
    // A volume that moved does no harm.
    if (found.empty() && !levels.explained_by(MovedGain::Which::volume))
      keep(level_findings(levels));
    widen_towards({1 / gain_change(*calibration.same, *calibration.again)}, options, result);
    result.removed.emplace_back("same signal again: tells whether the gains stayed");
    return;
  }
  keep(level_findings(levels));
  std::vector<double> factors;
  for (const MovedGain& one : levels.moved) factors.push_back(one.ratio_factor());
  widen_towards(factors, options, result);
  if (calibration.any() && factors.empty()) result.assumed.push_back(gain_assumption(levels));
}

/// Whether levels were spoilt by something that is named already and is no gain.
bool levels_are_spoilt(const std::vector<RecordingFinding>& findings) {
  return std::any_of(findings.begin(), findings.end(), [](const RecordingFinding& one) {
    return one.kind == "lost-samples" || one.kind == "dropout" || one.kind == "coded" ||
           one.kind == "band-limited";
  });
}

/// What the impedance itself tells of the recordings. Throws InputError for what refuses.
void judge(const Transfer& measured, const Calibration& calibration, const AcquireOptions& options,
           const std::vector<Index>& usable, const path& file, MeasuredImpedance& result,
           std::vector<RecordingFinding>& findings) {
  const MeasuredImpedance good = picked(result, usable);
  const auto keep = [&](const std::vector<RecordingFinding>& found) {
    refuse_by(found, file.string(), findings);
    findings.insert(findings.end(), found.begin(), found.end());
  };
  keep(calibration_findings(good, calibration, options.impedance));
  judge_gains(levels_are_spoilt(findings)
                  ? LevelCheck()
                  : level_check(measured, calibration, result, options.impedance),
              calibration, options.impedance, result, findings);
  if (usable.size() >= 12) {
    const RatioConsistency consistency =
        ratio_consistency(good, options.impedance.wiring, options.impedance.reference_ohm);
    if (std::abs(consistency.offset_deg) > 90) keep(consistency_findings(consistency));
    keep(impedance_findings(good));
    const auto found = consistency_findings(consistency);
    keep(found);
    if (!found.empty() && found[0].kind == "delay")
      widen_by_delay(consistency.delay_seconds, options.impedance, result);
  } else {
    keep(impedance_findings(good));
  }
  keep(evenness_findings(unevenness_db(measured, result, options.impedance.reference_ohm)));
}

}  // namespace

Acquired acquire_impedance(const AcquireFiles& files, const AcquireOptions& options,
                           const ReadRecording& recording_of) {
  if (files.again && !files.same)
    throw InputError("the same signal after the measurement tells nothing without the one before",
                     "record it before, too");
  Evaluation evaluation(files, options, recording_of);
  const Transfer measured = evaluation.transfer(files.recording, "", Expected::both, false);
  const Calibration calibrations = calibration(files, options, evaluation);
  MeasuredImpedance result = impedance(measured, calibrations, options.impedance);
  const auto usable = usable_points(result, options.least_coherence);
  if (2 * static_cast<Index>(usable.size()) < result.frequency_hz.size() || usable.size() < 2)
    throw InputError(Place{files.recording.string()},
                     "the coherence of the channels lies below " +
                         number_text(options.least_coherence) + " at most frequencies",
                     "check the wiring and the band, raise the level or record longer");
  if (static_cast<Index>(usable.size()) < result.frequency_hz.size())
    evaluation.findings.push_back(
        {"coherence",
         std::to_string(result.frequency_hz.size() - static_cast<Index>(usable.size())) +
             " frequencies between " + span_text(result.frequency_hz, usable) +
             " are left out for a coherence below " + number_text(options.least_coherence) +
             "; raise the level or record longer",
         false});
  tell(options.progress, 1);
  judge(measured, calibrations, options, usable, files.recording, result, evaluation.findings);
  const ComplexArray z = result.impedance_ohm(usable);
  CurveNotes notes;
  notes.title = one_line(files.recording.stem().string());
  notes.origin = "measured with two channels across a reference of " +
                 number_text(options.impedance.reference_ohm) + " ohm";
  return {ImpedanceCurve(notes, result.frequency_hz(usable), z.abs(), z.arg() / degree,
                         result.uncertainty_ohm(usable)),
          result.coherence(usable), std::move(evaluation.findings), result.removed, result.assumed};
}

}  // namespace ohmtilt
