#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// How far apart, in dB of power, two figures of one amplifier may be and still agree (12 %):
/// common practice, no source.
inline constexpr double claim_tolerance_db = 0.5;

/// Power points that no amplifier with one open voltage, one current limit and one output
/// resistance has.
struct Contradiction {
  /// Of the points: each of them alone, left out, ends it; empty where more than one would have to
  /// go.
  std::vector<std::size_t> breaking;
  double error_db = 0;  ///< by how much the best such amplifier is off, in dB of power
  std::string text;     ///< a sentence without its full stop
};

/// The least e for which some E > 0, Ro >= 0 and I > 0 give every point's power within e decibels
/// as min(E R/(R + Ro), I R)^2/R. With u = 1/R the reciprocal voltage is the larger one of two
/// straight lines, a + b u and i u: for each division of the loads into those that the current
/// rules (the lowest) and the others, linear inequalities in a, b and i.
double least_error_db(const std::vector<PowerPoint>& points);

/// Nothing where the points agree to claim_tolerance_db. They were taken under equal conditions;
/// at most most_judged_points of them.
std::optional<Contradiction> contradiction(const std::vector<PowerPoint>& points);
inline constexpr std::size_t most_judged_points = 60;

}  // namespace ohmtilt
