#pragma once
#include <cstdint>

namespace ohmtilt {

/// Which random number is meant: a pure function of these gives it, so that results depend neither
/// on the order in which they are asked for nor on the number of threads.
struct RandomPlace {
  std::uint64_t seed = 1;
  std::uint64_t draw = 0;     ///< one stream of numbers a draw
  std::uint64_t value = 0;    ///< which of the draw's values
  std::uint64_t attempt = 0;  ///< for methods that reject
};

/// A number in (0, 1), uniform: the 53 upper bits of the mixed place plus one half, rounded and
/// kept below 1, so that the ends never come. The mixing function is that of Steele, Lea and Flood
/// (2014, "Fast splittable pseudorandom number generators", OOPSLA, SplitMix64). Integers and one
/// exact product: the same bits on every machine.
double uniform_number(const RandomPlace& place);

/// A number in (-1, 1) whose density is that of a normal one with standard deviation 1/3, cut off
/// at the ends and scaled to an area of 1; by rejection. The same on every machine, up to a chance
/// of one in 1e15 a number that a library's exp() is rounded otherwise.
double cut_normal_number(const RandomPlace& place);

}  // namespace ohmtilt
