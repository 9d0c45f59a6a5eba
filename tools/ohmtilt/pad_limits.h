#pragma once
// The limits of `ohmtilt pad`: which are exceeded, said in words, and the pad that comes nearest
// where none keeps them.
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/design/pad_search.h>
#include <ohmtilt/design/switched_attenuator.h>

namespace ohmtilt::cli {

/// A limit that is exceeded.
struct LimitFault {
  std::string what;  ///< "span"
  std::string text;  ///< "span 2.95 dB, at most 1 dB"
  double times = 0;  ///< by which factor, above 1
};

std::vector<LimitFault> limit_faults(const PadCandidate& pad, const PadLimits& limits);
/// Of the step that exceeds each most; each text names its step.
std::vector<LimitFault> limit_faults(const SwitchedAttenuator& ladder, const PadLimits& limits);

/// The texts, with semicolons between.
std::string said(const std::vector<LimitFault>& faults);

/// What comes nearest where no pad does what is asked.
struct NearestPad {
  PadCandidate pad;
  std::vector<LimitFault> faults;  ///< none: it is the attenuation that none comes near to
};
/// Of the pads without limits that no other beats: the one whose worst excess is the least. Where
/// none has the attenuation: the nearest one. Nothing where no combination is a pad at all, or
/// there are too many to go through them again.
std::optional<NearestPad> nearest_pad(const PadSite& site, PadSearchOptions how);

}  // namespace ohmtilt::cli
