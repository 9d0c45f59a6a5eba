#pragma once
#include <optional>
#include <vector>

#include <ohmtilt/design/pad/pad_search.h>

namespace ohmtilt {

/// What comes nearest where no pad does what is asked.
struct NearestPad {
  PadCandidate pad;
  std::vector<LimitExcess> exceeded;  ///< none: it is the attenuation that none comes near to
};
/// Of the pads without limits that no other beats: the one whose worst excess is the least. Where
/// none has the attenuation: the nearest one. Nothing where no combination is a pad at all, or
/// there are more than 1e7 to go through again. Throws InputError as search_pads does.
std::optional<NearestPad> nearest_pad(const PadSite& site, PadSearchOptions how);

}  // namespace ohmtilt
