#pragma once
// What the ear gets: the earphone's response with the measuring source taken out.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/chain/earphone.h>

namespace ohmtilt {

/// The earphone's response in dB with an ideal source (0 ohm) of the same open-circuit voltage as
/// in the measurement: the measured level less 20 lg |Z/(Z + source_ohm)|. One value a frequency.
/// Throws InputError without a response, or outside response_range().
Array ideal_response_db(const Earphone& earphone, const Array& hz);
/// Where both response and impedance are known; the impedance's range without a response.
Band response_range(const Earphone& earphone);

/// Level in dB SPL at each frequency for 1 V at the terminals: the sensitivity, plus the ideal
/// response less its value at the sensitivity's frequency; flat without a response.
/// Throws InputError without a sensitivity, or where its frequency is outside the response.
Array level_db_per_volt(const Earphone& earphone, const Array& hz);

/// Isolation in dB at each frequency; zero where nothing is known. A curve keeps its end values
/// outside its range.
Array isolation_db(const Earphone& earphone, const Array& hz);

}  // namespace ohmtilt
