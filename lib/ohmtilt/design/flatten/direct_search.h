#pragma once
#include <functional>
#include <vector>

namespace ohmtilt {

struct DirectSearchOptions {
  double first_step = 0.5;
  double last_step = 0.01;  ///< ends when steps have become smaller
  int most_rounds = 400;
};

struct DirectSearchResult {
  std::vector<double> x;
  double value = 0;
};

/// A minimum of f near x by pattern search [Hooke1961]: needs no
/// derivative, so f may have kinks. Never returns worse than it was given.
DirectSearchResult direct_search(const std::function<double(const std::vector<double>&)>& f,
                                 std::vector<double> x, const DirectSearchOptions& options = {});

}  // namespace ohmtilt
