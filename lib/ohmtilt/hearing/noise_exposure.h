#pragma once

namespace ohmtilt {

// [NIOSH1998]: 85 dB(A) for 8 hours, 3 dB exchange rate.
inline constexpr double niosh_level_dba = 85;
inline constexpr double niosh_minutes = 480;
/// Minutes a day at a level in dB(A): 480 / 2^((L - 85)/3).
double niosh_minutes_at(double level_dba);

// WHO and ITU-T H.870 [H870], safe listening: adults 80 dB(A) for 40 hours a week.
inline constexpr double weekly_level_dba = 80;
inline constexpr double weekly_hours = 40;
/// Hours a week of equal energy at a level in dB(A).
double weekly_hours_at(double level_dba);

// EN 50332-2 [EN50332]: a player gives at most 150 mV into 32 ohm; an earphone needs at least 75 mV
// for 94 dB with programme simulation noise. EN 50332-1: 100 dB(A) for the two together.
inline constexpr double player_limit_volt = 0.150;
inline constexpr double player_limit_load_ohm = 32;
inline constexpr double earphone_least_volt = 0.075;
inline constexpr double earphone_least_volt_db = 94;

}  // namespace ohmtilt
