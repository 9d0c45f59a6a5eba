#pragma once
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/measure/findings.h>
#include <ohmtilt/measure/impedance.h>

namespace ohmtilt {

/// The files of one measurement. All recordings with the same stimulus and sample rate.
struct AcquireFiles {
  std::filesystem::path recording;
  std::optional<std::filesystem::path> stimulus;  ///< sweep or periodic; else averages
  std::optional<std::filesystem::path> same, open, short_, known;  ///< calibrations
  std::optional<std::filesystem::path> again;  ///< `same` once more, after the measurement
};

struct AcquireOptions {
  TransferOptions transfer;
  ImpedanceOptions impedance;
  double known_ohm = 0;
  double known_tolerance_percent = 0;
  double least_coherence = 0.9;  ///< frequencies below it are left out
  Progress progress = {};
};

struct Acquired {
  ImpedanceCurve curve;  ///< with phase and uncertainty
  Array coherence;       ///< one a point of the curve
  std::vector<RecordingFinding> findings;
  std::vector<std::string> removed;  ///< what each calibration took out
  std::vector<std::string> assumed;  ///< what none of them tells
};

/// From recordings to a curve; recording_of gives those that files names. Throws InputError as the
/// steps do, for findings that refuse, and when fewer than half of the frequencies are usable.
Acquired acquire_impedance(const AcquireFiles& files, const AcquireOptions& options,
                           const ReadRecording& recording_of = read_recording);

}  // namespace ohmtilt
