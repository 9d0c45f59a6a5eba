#pragma once
#include <optional>

namespace ohmtilt {

/// For whom a threshold of hearing holds. insert: level in the occluded-ear simulator (IEC 60318-4)
/// of insert earphones, ISO 389-2:1994 from 125 Hz to 8 kHz and ISO 389-5:2006 above to 16 kHz
/// [ISO389]. free_field: frontal incidence, level without the listener, ISO 389-7:2019, 20 Hz to 18
/// kHz.
enum class HearingThreshold { insert, free_field };

/// Threshold of hearing for tones in dB SPL at hz, for young people of normal hearing: the
/// standard's values, interpolated in dB over ln f. Nothing outside its table. At 8 kHz, where the
/// two parts differ by 3.5 dB (other earphones), ISO 389-2 holds.
std::optional<double> hearing_threshold_db(HearingThreshold threshold, double hz);

}  // namespace ohmtilt
