#pragma once
#include <atomic>
#include <cstddef>
#include <functional>
#include <mutex>

namespace ohmtilt {

/// Tells how much of a work that threads share is done, as a part from 0 to 1. A thread that finds
/// another one telling goes on with its work.
class ParallelProgress {
 public:
  /// tell may be empty; all is the number of pieces.
  ParallelProgress(const std::function<void(double)>& tell, std::size_t all)
      : tell_(tell), all_(all) {}
  void one_more();
  void finish();

 private:
  const std::function<void(double)>& tell_;
  const std::size_t all_;
  std::atomic<std::size_t> done_ = 0;
  std::mutex mutex_;
};

}  // namespace ohmtilt
