#pragma once
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// A line of a pad's list of parts.
struct PadPart {
  std::string name;  ///< its key without the unit: "series", "second_shunt"
  int count = 1;     ///< how many of them: two where both legs carry one
  double ohm = 0;
  std::string code;        ///< IEC 60062, rounded to three digits
  double rating_watt = 0;  ///< the next standard one above twice its dissipation
  double tolerance_percent = 0;
};

/// dissipation_milliwatt: one a value of the pad; celsius: of the surroundings.
std::vector<PadPart> pad_parts(const Pad& pad, const std::vector<double>& dissipation_milliwatt,
                               double celsius = 25);

/// The smallest customary rating of a resistor, from 1/16 W on, of which twice watt is less than
/// what it may take at celsius (common practice, no source). Throws InputError beyond 100 W.
double standard_rating_watt(double watt, double celsius = 25);
/// What part of its rating a film resistor may take: all up to 70 deg C, less in a straight line to
/// nothing at 155 (common practice, no source). Throws InputError from 150 on and below -55.
double derating(double celsius);

}  // namespace ohmtilt
