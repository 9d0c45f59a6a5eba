#pragma once
// Chance of the property tests: the same figures from the same seed.
#include <cmath>
#include <random>

namespace ohmtilt::test {

class Dice {
 public:
  explicit Dice(unsigned seed) : random_(seed) {}
  /// Evenly spread by ratio; both positive.
  double between(double low, double high) {
    return low * std::pow(high / low, std::uniform_real_distribution<double>(0, 1)(random_));
  }
  /// 0 to count - 1.
  int below(int count) { return std::uniform_int_distribution<int>(0, count - 1)(random_); }
  bool coin() { return below(2) == 0; }

 private:
  std::mt19937 random_;
};

}  // namespace ohmtilt::test
