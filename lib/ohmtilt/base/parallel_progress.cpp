#include <ohmtilt/base/parallel_progress.h>

namespace ohmtilt {

void ParallelProgress::one_more() {
  const std::size_t done = ++done_;
  if (!tell_) return;
  const std::unique_lock lock(mutex_, std::try_to_lock);
  if (lock && done < all_) tell_(static_cast<double>(done) / static_cast<double>(all_));
}

void ParallelProgress::finish() {
  if (tell_) tell_(1);
}

}  // namespace ohmtilt
