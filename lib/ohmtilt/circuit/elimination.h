#pragma once
// Gaussian elimination of many matrices of one pattern at once: the order of pivots and the places
// of fill-in are found once; the numbers of 16 frequencies go through it side by side.
#include <array>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/simd.h>

namespace ohmtilt {

/// Complex numbers of 16 neighbouring frequencies.
struct Lane {
  static constexpr int width = 16;
  alignas(32) std::array<double, width> re{}, im{};
};

/// The places of a sparse matrix that may be other than zero.
struct Pattern {
  struct Place {
    int row, column;
  };
  int size = 0;
  std::vector<Place> places;
};

/// The order of elimination of one pattern ([Markowitz1957], threshold pivoting on samples).
class Elimination {
 public:
  /// samples: dense matrices of typical values; a pivot is at least a tenth of its column in each
  /// of them where that can be had, and then the one that brings the least fill-in.
  Elimination(const Pattern& pattern, std::vector<Eigen::MatrixXcd> samples);

  /// Places with fill-in; the first pattern.places.size() are the pattern's.
  std::size_t places() const { return place_count_; }
  /// Factors in place. weak[t] grows for a lane whose pivot nearly cancelled: below
  /// 1e-11 of the sum of its row's magnitudes, given in row_sum.
  void factor(std::vector<Lane>& matrix,
              const std::vector<std::array<double, Lane::width>>& row_sum,
              std::array<double, Lane::width>& weak) const;
  /// Solves A x = b, or A^T x = b, with the factors; b is used up.
  void solve(const std::vector<Lane>& factors, std::vector<Lane>& b, std::vector<Lane>& x) const;
  void solve_transposed(const std::vector<Lane>& factors, std::vector<Lane>& b,
                        std::vector<Lane>& x) const;

 private:
  struct Entry {
    int place, index;  // index: the row of a lower entry, the column of an upper one
  };
  struct Step {
    int row, column, pivot;
    std::vector<Entry> lower, upper;
    std::vector<int> targets;  // lower.size() x upper.size()
  };
  friend class Planner;
  std::vector<Step> steps_;
  std::size_t place_count_ = 0;
  int size_ = 0;
};

}  // namespace ohmtilt
