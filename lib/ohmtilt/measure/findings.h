#pragma once
#include <string>
#include <vector>

#include <ohmtilt/measure/impedance.h>
#include <ohmtilt/measure/level_check.h>
#include <ohmtilt/measure/periodic_transfer.h>
#include <ohmtilt/measure/ratio_consistency.h>
#include <ohmtilt/measure/recording.h>
#include <ohmtilt/measure/sweep_transfer.h>
#include <ohmtilt/measure/test_tones.h>
#include <ohmtilt/text/error.h>

namespace ohmtilt {

/// One thing seen in a recording that a person should know. `kind` is stable: clipping, silent,
/// low-level, dropout, lost-samples, mains, clock, distortion, fast-sweep, band-limited, coded,
/// halves, uneven, automatic-gain,
/// gain-changed, same-channels, inverted, swapped, gain, delay, inconsistent,
/// active, exchanged, known-disagrees, reference-small, reference-large, uncalibrated, coherence.
struct RecordingFinding {
  std::string kind;
  std::string text;  ///< one sentence, with what to do
  bool refuses;      ///< the recording cannot be used
  /// What to do is to record one signal on both channels as a calibration (Calibration::same).
  bool same_tells = false;
};

/// The InputError of a finding that refuses.
class RefusedRecording : public InputError {
 public:
  RefusedRecording(const Place& place, const std::string& wrong, const std::string& remedy,
                   bool same_tells_more)
      : InputError(place, wrong, remedy), same_tells(same_tells_more) {}
  bool same_tells;  ///< as of the finding
};

/// Which channels must carry sound: in a short (at the load) or an open circuit (at the reference)
/// the second one rightly carries next to none.
enum class Expected { both, first_only };

/// Clipping, silence, low level, dropouts.
std::vector<RecordingFinding> recording_findings(const Recording& recording,
                                                 Expected expected = Expected::both);
/// Mains lines, halves that differ, and both channels alike (pass alike_allowed for a calibration
/// on one signal).
std::vector<RecordingFinding> transfer_findings(const Transfer& transfer, bool alike_allowed);
/// A drifting clock or lost samples, distortion, a channel that ends below the band, sound before
/// its response, a sweep too fast to keep the harmonics apart.
std::vector<RecordingFinding> sweep_findings(const SweepTransfer& sweep);
/// A gain that follows the level or drifts, by the stimulus's test tones.
std::vector<RecordingFinding> tone_findings(const ToneGains& gains);
/// A drifting clock, distortion at lines that the stimulus leaves out.
std::vector<RecordingFinding> periodic_findings(const PeriodicTransfer& periodic);
/// Channels swapped or of other gain, a reference far from the impedance, a gain that no
/// calibration tells and that moves the impedance by 1 % or more.
std::vector<RecordingFinding> impedance_findings(const MeasuredImpedance& impedance);
/// Open and short exchanged, a known resistor that disagrees with the reference, gains that differ
/// by more than was assumed.
std::vector<RecordingFinding> calibration_findings(const MeasuredImpedance& impedance,
                                                   const Calibration& calibration,
                                                   const ImpedanceOptions& options);
/// An inverted channel, a delay between the channels, a ratio that no passive impedance gives.
std::vector<RecordingFinding> consistency_findings(const RatioConsistency& consistency);
/// A first channel whose level follows no source: how far it varies in dB between 100 Hz and 10 kHz
/// when the best output impedance is allowed for.
double unevenness_db(const Transfer& measured, const MeasuredImpedance& impedance,
                     double reference_ohm);
std::vector<RecordingFinding> evenness_findings(double unevenness_db);
/// Levels of the first channel that fit no unmoved gains.
std::vector<RecordingFinding> level_findings(const LevelCheck& check);
/// The second channel's gain over the first's, after over before: the median over frequency.
double gain_change(const Transfer& same, const Transfer& again);
/// A gain that moved between the same signal before and after the measurement.
std::vector<RecordingFinding> again_findings(const Transfer& same, const Transfer& again);

/// Throws RefusedRecording with the file's name and the first finding that refuses, if there is
/// one, and with what earlier findings say of its cause.
void refuse_by(const std::vector<RecordingFinding>& findings, const std::string& file,
               const std::vector<RecordingFinding>& earlier = {});

}  // namespace ohmtilt
