// A function that remembers its last answers: it is asked once a grid, and says the same as
// without.
#include <gtest/gtest.h>
#include <stdexcept>

#include <ohmtilt/base/remembered.h>

namespace ohmtilt {
namespace {

struct Counted {
  int calls = 0;
  Remembered<Array> squares{[this](const Array& hz) {
    ++calls;
    if (hz[0] < 0) throw std::runtime_error("negative");
    return Array(hz.square());
  }};
};

TEST(Remembered, AsksOnceAGridWhicheverCopyIsAsked) {
  Counted counted;
  const auto copy = counted.squares;
  const Array low = Array::LinSpaced(480, 20, 200), high = Array::LinSpaced(480, 200, 20000);
  for (int i = 0; i < 3; ++i)
    for (const Array& hz : {low, high}) {
      EXPECT_TRUE((copy(hz) == hz.square()).all());
      EXPECT_TRUE((counted.squares(hz) == hz.square()).all());
    }
  EXPECT_EQ(counted.calls, 2);
}

TEST(Remembered, TellsGridsApartByEveryValueAndLength) {
  Counted counted;
  Array hz = Array::LinSpaced(480, 20, 20000);
  counted.squares(hz);
  EXPECT_EQ(counted.squares(hz.head(479)).size(), 479);
  hz[479] = 20000.000001;
  EXPECT_EQ(counted.squares(hz)[479], hz[479] * hz[479]);
  EXPECT_EQ(counted.calls, 3);
}

TEST(Remembered, KeepsNeitherErrorsNorLongGrids) {
  Counted counted;
  for (int i = 0; i < 2; ++i)
    EXPECT_THROW(counted.squares(Array::Constant(1, -1)), std::runtime_error);
  const Array many = Array::LinSpaced(20'000, 20, 20000);
  for (int i = 0; i < 2; ++i) EXPECT_TRUE((counted.squares(many) == many.square()).all());
  EXPECT_EQ(counted.calls, 4);
}

}  // namespace
}  // namespace ohmtilt
