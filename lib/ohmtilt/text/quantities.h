#pragma once
// Numbers with their units as people read them.
#include <string>

namespace ohmtilt {

/// So many significant digits, without an exponent from 1e-4 to 1e7: "0.3", "15.8", "1000".
std::string significant(double value, int figures = 3);

/// The same of a positive value, never more than it: what holds up to value holds up to the text.
std::string significant_down(double value, int figures = 2);
/// The same, never less than it.
std::string significant_up(double value, int figures = 2);

std::string hz_text(double hz);  ///< "92 Hz", "3.1 kHz", "1 MHz"; three significant digits

}  // namespace ohmtilt
