#include <ohmtilt/circuit/elimination.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt {
namespace {

constexpr int width = Lane::width;

// target -= a * b
inline void subtract_product(Lane& __restrict target, const Lane& __restrict a,
                             const Lane& __restrict b) {
  for (int t = 0; t < width; ++t) {
    target.re[t] -= a.re[t] * b.re[t] - a.im[t] * b.im[t];
    target.im[t] -= a.re[t] * b.im[t] + a.im[t] * b.re[t];
  }
}

inline void multiply(Lane& __restrict target, const Lane& __restrict b) {
  for (int t = 0; t < width; ++t) {
    const double re = target.re[t] * b.re[t] - target.im[t] * b.im[t];
    target.im[t] = target.re[t] * b.im[t] + target.im[t] * b.re[t];
    target.re[t] = re;
  }
}

inline void invert(Lane& lane) {
  for (int t = 0; t < width; ++t) {
    const double inverse_square = 1 / (lane.re[t] * lane.re[t] + lane.im[t] * lane.im[t]);
    lane.re[t] *= inverse_square;
    lane.im[t] *= -inverse_square;
  }
}

inline void count_weak(std::array<double, width>& __restrict weak, const Lane& __restrict pivot,
                       const std::array<double, width>& __restrict row_sum) {
  for (int t = 0; t < width; ++t)
    weak[t] += std::abs(pivot.re[t]) + std::abs(pivot.im[t]) > 1e-11 * row_sum[t] ? 0. : 1.;
}

}  // namespace

// Carries the samples through the elimination while it chooses the pivots.
class Planner {
 public:
  Planner(const Pattern& pattern, std::vector<Eigen::MatrixXcd> samples)
      : size_(pattern.size),
        samples_(std::move(samples)),
        place_(Eigen::MatrixXi::Constant(size_, size_, -1)),
        row_done_(static_cast<std::size_t>(size_)),
        column_done_(static_cast<std::size_t>(size_)) {
    for (const auto& at : pattern.places) place_(at.row, at.column) = places_++;
  }

  void run(Elimination& result) {
    result.size_ = size_;
    for (int k = 0; k < size_; ++k) {
      count();
      auto step = step_at(best_pivot());
      eliminate(step);
      result.steps_.push_back(std::move(step));
    }
    result.place_count_ = static_cast<std::size_t>(places_);
  }

 private:
  struct Candidate {
    int row = -1, column = -1;
    long cost = 0;
    double strength = -1;  // its magnitude over the largest of its column, the least of all samples
    bool is_strong() const { return strength >= 0.1; }
    bool better_than(const Candidate& other) const {
      if (is_strong() != other.is_strong()) return is_strong();
      if (!is_strong()) return strength > other.strength;
      return cost != other.cost ? cost < other.cost : strength > other.strength;
    }
  };

  bool open(int row, int column) const {
    return !row_done_[row] && !column_done_[column] && place_(row, column) >= 0;
  }

  void count() {
    in_row_.assign(size_, 0);
    in_column_.assign(size_, 0);
    for (int c = 0; c < size_; ++c)
      for (int r = 0; r < size_; ++r)
        if (open(r, c)) {
          ++in_row_[r];
          ++in_column_[c];
        }
  }

  Candidate best_pivot() const {
    Candidate best;
    for (int c = 0; c < size_; ++c) {
      if (column_done_[c]) continue;
      std::vector<double> largest;
      for (int r = 0; r < size_; ++r) {
        if (!open(r, c)) continue;
        Candidate found{r, c, (in_row_[r] - 1) * (in_column_[c] - 1)};
        if (best.is_strong() && found.cost > best.cost) continue;
        if (largest.empty()) largest = column_maxima(c);
        found.strength = strength(r, c, largest);
        if (best.row < 0 || found.better_than(best)) best = found;
      }
    }
    return best.row < 0 ? any_left() : best;
  }

  // A structurally singular matrix: some pivot outside the pattern, of value zero.
  Candidate any_left() const {
    const auto row = std::find(row_done_.begin(), row_done_.end(), false) - row_done_.begin();
    const auto column =
        std::find(column_done_.begin(), column_done_.end(), false) - column_done_.begin();
    return {static_cast<int>(row), static_cast<int>(column), 0, 0};
  }

  std::vector<double> column_maxima(int column) const {
    std::vector<double> result(samples_.size(), 0);
    for (int r = 0; r < size_; ++r)
      if (open(r, column))
        for (std::size_t s = 0; s < samples_.size(); ++s)
          result[s] = std::max(result[s], std::norm(samples_[s](r, column)));
    return result;
  }

  double strength(int row, int column, const std::vector<double>& largest) const {
    double least = 1;
    for (std::size_t s = 0; s < samples_.size(); ++s)
      least =
          std::min(least, largest[s] > 0 ? std::norm(samples_[s](row, column)) / largest[s] : 0);
    return std::sqrt(least);
  }

  int place(int row, int column) {
    if (place_(row, column) < 0) place_(row, column) = places_++;
    return place_(row, column);
  }

  Elimination::Step step_at(const Candidate& pivot) {
    Elimination::Step step{pivot.row, pivot.column, place(pivot.row, pivot.column), {}, {}, {}};
    row_done_[pivot.row] = column_done_[pivot.column] = true;
    for (int i = 0; i < size_; ++i) {
      if (!row_done_[i] && place_(i, pivot.column) >= 0)
        step.lower.push_back({place_(i, pivot.column), i});
      if (!column_done_[i] && place_(pivot.row, i) >= 0)
        step.upper.push_back({place_(pivot.row, i), i});
    }
    for (const auto& low : step.lower)
      for (const auto& up : step.upper) step.targets.push_back(place(low.index, up.index));
    return step;
  }

  void eliminate(const Elimination::Step& step) {
    for (auto& sample : samples_)
      for (const auto& low : step.lower) {
        const Complex pivot = sample(step.row, step.column);
        const Complex factor = pivot == 0.0 ? 0.0 : sample(low.index, step.column) / pivot;
        for (const auto& up : step.upper)
          sample(low.index, up.index) -= factor * sample(step.row, up.index);
      }
  }

  int size_;
  std::vector<Eigen::MatrixXcd> samples_;
  Eigen::MatrixXi place_;
  int places_ = 0;
  std::vector<bool> row_done_, column_done_;
  std::vector<long> in_row_, in_column_;
};

Elimination::Elimination(const Pattern& pattern, std::vector<Eigen::MatrixXcd> samples) {
  Planner(pattern, std::move(samples)).run(*this);
}

OHMTILT_WIDE void Elimination::factor(std::vector<Lane>& matrix,
                                      const std::vector<std::array<double, width>>& row_sum,
                                      std::array<double, width>& weak) const {
  for (const Step& step : steps_) {
    Lane& pivot = matrix[step.pivot];
    count_weak(weak, pivot, row_sum[step.row]);
    invert(pivot);
    const int* target = step.targets.data();
    for (const Entry& low : step.lower) {
      multiply(matrix[low.place], pivot);
      for (const Entry& up : step.upper)
        subtract_product(matrix[*target++], matrix[low.place], matrix[up.place]);
    }
  }
}

OHMTILT_WIDE void Elimination::solve(const std::vector<Lane>& factors, std::vector<Lane>& b,
                                     std::vector<Lane>& x) const {
  for (const Step& step : steps_)
    for (const Entry& low : step.lower)
      subtract_product(b[low.index], factors[low.place], b[step.row]);
  for (auto step = steps_.rbegin(); step != steps_.rend(); ++step) {
    x[step->column] = b[step->row];
    for (const Entry& up : step->upper)
      subtract_product(x[step->column], factors[up.place], x[up.index]);
    multiply(x[step->column], factors[step->pivot]);
  }
}

OHMTILT_WIDE void Elimination::solve_transposed(const std::vector<Lane>& factors,
                                                std::vector<Lane>& b, std::vector<Lane>& x) const {
  for (const Step& step : steps_) {
    multiply(b[step.column], factors[step.pivot]);
    for (const Entry& up : step.upper)
      subtract_product(b[up.index], factors[up.place], b[step.column]);
  }
  for (auto step = steps_.rbegin(); step != steps_.rend(); ++step) {
    x[step->row] = b[step->column];
    for (const Entry& low : step->lower)
      subtract_product(x[step->row], factors[low.place], x[low.index]);
  }
}

}  // namespace ohmtilt
