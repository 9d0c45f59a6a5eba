#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>

#include <tools/ohmtilt/program/threads.h>

#include <mutex>
#include <system_error>
#include <thread>
#include <vector>

namespace ohmtilt::cli {
namespace {

/// How many of so many threads can live at the same time.
std::size_t granted(std::size_t wanted) {
  std::mutex until_all_are_there;
  std::unique_lock hold(until_all_are_there);
  std::vector<std::thread> threads;
  threads.reserve(wanted);
  try {
    while (threads.size() < wanted)
      threads.emplace_back([&] { const std::lock_guard wait(until_all_are_there); });
  } catch (const std::system_error&) {  // no more
  }
  hold.unlock();
  for (auto& thread : threads) thread.join();
  return threads.size();
}

}  // namespace

struct GrantedThreads::Limit {
  explicit Limit(std::size_t threads)
      : control(oneapi::tbb::global_control::max_allowed_parallelism, threads) {}
  oneapi::tbb::global_control control;
};

GrantedThreads::GrantedThreads() {
  const auto wanted = static_cast<std::size_t>(oneapi::tbb::info::default_concurrency()) - 1;
  const std::size_t found = granted(wanted);
  if (found < wanted) limit_ = std::make_unique<Limit>(found + 1);
}

GrantedThreads::~GrantedThreads() = default;

}  // namespace ohmtilt::cli
