#pragma once
// The parallel loops of the library: side by side where there are threads, one after the other
// where there are none (WebAssembly). The results are the same.
#ifdef __EMSCRIPTEN__
#include <algorithm>
#include <functional>
#include <optional>
#else
#include <tbb/blocked_range.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>
#include <tbb/parallel_invoke.h>
#endif

namespace ohmtilt {

#ifdef __EMSCRIPTEN__

template <class Index, class Work>
void parallel_for(Index first, Index last, const Work& work) {
  for (; first < last; ++first) work(first);
}

template <class Index, class Work>
void parallel_ranges(Index count, Index grain, const Work& work) {
  for (Index first = 0; first < count; first += grain) work(first, std::min(first + grain, count));
}

template <class One, class Other>
void parallel_invoke(const One& one, const Other& other) {
  one();
  other();
}

template <class Value>
class PerThread {
 public:
  explicit PerThread(std::function<Value()> make) : make_(std::move(make)) {}
  Value& local() { return value_ ? *value_ : value_.emplace(make_()); }
  template <class Join>
  Value combine(const Join&) {
    return local();
  }

 private:
  std::function<Value()> make_;
  std::optional<Value> value_;
};

#else

/// work(i) for each first <= i < last, in any order.
template <class Index, class Work>
void parallel_for(Index first, Index last, const Work& work) {
  tbb::parallel_for(first, last, work);
}

/// work(first, last) over ranges that together are [0, count), each split no further once it has
/// at most grain.
template <class Index, class Work>
void parallel_ranges(Index count, Index grain, const Work& work) {
  const auto range = [&](const tbb::blocked_range<Index>& r) { work(r.begin(), r.end()); };
  tbb::parallel_for(tbb::blocked_range<Index>(0, count, grain), range);
}

/// Both, in any order.
template <class One, class Other>
void parallel_invoke(const One& one, const Other& other) {
  tbb::parallel_invoke(one, other);
}

/// A value for each thread, made when the thread first asks; combine(join) is all of them in one.
template <class Value>
using PerThread = tbb::enumerable_thread_specific<Value>;

#endif

}  // namespace ohmtilt
