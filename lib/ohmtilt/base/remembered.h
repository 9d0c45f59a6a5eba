#pragma once
#include <deque>
#include <functional>
#include <memory>
#include <mutex>
#include <utility>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// A function of a frequency grid that remembers its last answers, so that whoever asks again at
/// the same frequencies waits once. Copies share what they remember; any thread may ask.
template <typename Answer>
class Remembered {
 public:
  using Function = std::function<Answer(const Array& hz)>;

  explicit Remembered(Function function)
      : function_(std::move(function)), memory_(std::make_shared<Memory>()) {}

  Answer operator()(const Array& hz) const {
    if (hz.size() > most_points) return function_(hz);
    {
      const std::lock_guard lock(memory_->mutex);
      for (const auto& [asked, answer] : memory_->last)
        if (asked.size() == hz.size() && (asked == hz).all()) return answer;
    }
    Answer answer = function_(hz);
    const std::lock_guard lock(memory_->mutex);
    memory_->last.emplace_back(hz, answer);
    if (memory_->last.size() > most_grids) memory_->last.pop_front();
    return answer;
  }

 private:
  static constexpr Eigen::Index most_points = 10'000;  // what is longer would keep much memory
  static constexpr std::size_t most_grids = 4;

  struct Memory {
    std::mutex mutex;
    std::deque<std::pair<Array, Answer>> last;
  };

  Function function_;
  std::shared_ptr<Memory> memory_;
};

}  // namespace ohmtilt
