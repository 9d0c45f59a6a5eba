#pragma once
#include <functional>

namespace ohmtilt {

/// Is told from 0 to 1 how much of a work is done; empty where nobody wants to know. One call at a
/// time.
using Progress = std::function<void(double)>;

inline void tell(const Progress& progress, double done) {
  if (progress) progress(done);
}

/// What tells the part from .. to of a whole.
inline Progress part_of(const Progress& whole, double from, double to) {
  if (!whole) return nullptr;
  return [whole, from, to](double done) { whole(from + (to - from) * done); };
}

}  // namespace ohmtilt
