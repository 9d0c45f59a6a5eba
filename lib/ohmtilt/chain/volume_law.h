#pragma once
#include <string>
#include <string_view>
#include <variant>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// How a volume control's gain follows its travel. Travel is in percent, 0 silent, 100 full.
struct LinearTaper {};
/// 0.3 times the travel up to half of it (15 % there), then straight to 1: common practice, no
/// source.
struct AudioTaper {};
/// Equal steps of level; there is no travel.
struct DecibelSteps {
  double step_db = 1;
};
/// Measured. Travel rises strictly; arrays have equal length >= 2.
struct VolumeTable {
  std::string file;      ///< as written in the chain's file
  Array travel_percent;  ///< 0 to 100
  Array gain_db;         ///< re full travel
  Array imbalance_db;    ///< |left less right|; zero where the file has no such column
};
using VolumeLaw = std::variant<AudioTaper, LinearTaper, DecibelSteps, VolumeTable>;

/// "audio-taper", "linear-taper", "decibel" or "table", as files write it.
std::string_view law_name(const VolumeLaw& law);

/// Part of a potentiometer's track below its wiper, 0 to 1, which is the voltage gain of an
/// unloaded one. travel_percent from 0 to 100.
double track_fraction(AudioTaper, double travel_percent);
double track_fraction(LinearTaper, double travel_percent);

/// Gain in dB re full travel; -infinity at travel 0 of a taper. A table is interpolated by straight
/// lines. Throws InputError for travel outside 0 to 100 or outside the table, and for DecibelSteps.
double volume_gain_db(const VolumeLaw& law, double travel_percent);
/// The difference between the channels in dB at this travel; 0 unless the law is a table.
double volume_imbalance_db(const VolumeLaw& law, double travel_percent);

}  // namespace ohmtilt
