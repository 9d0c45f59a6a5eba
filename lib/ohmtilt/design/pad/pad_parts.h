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

/// dissipation_milliwatt: one a value of the pad.
std::vector<PadPart> pad_parts(const Pad& pad, const std::vector<double>& dissipation_milliwatt);

/// The smallest customary rating of a resistor, from 1/16 W on, above twice watt (common practice,
/// no source). Throws InputError beyond 100 W.
double standard_rating_watt(double watt);

}  // namespace ohmtilt
