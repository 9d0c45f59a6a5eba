// Labels that tell apart what bears one title.
#include <gtest/gtest.h>
#include <ohmtilt/text/labels.h>

namespace ohmtilt {
namespace {

using Labels = std::vector<std::string>;

TEST(DistinctLabels, LeaveWhatDiffers) {
  EXPECT_EQ(distinct_labels({"A", "6 ohm"}, {"a.toml", ""}), (Labels{"A", "6 ohm"}));
}

TEST(DistinctLabels, SayWhatDiffers) {
  EXPECT_EQ(distinct_labels({"A", "B", "A"}, {"x/a.toml", "b.toml", "x/c.toml"}),
            (Labels{"A [a.toml]", "B", "A [c.toml]"}));
  EXPECT_EQ(distinct_labels({"A", "A"}, {"x/a.toml", "y/a.toml"}),
            (Labels{"A [x/a.toml]", "A [y/a.toml]"}));
  EXPECT_EQ(distinct_labels({"A", "A"}, {"a.toml", "a.toml"}),
            (Labels{"A [a.toml]", "A [a.toml] (2)"}));
  EXPECT_EQ(distinct_labels({"6 ohm", "6 ohm", "6 ohm"}, {"", "", "six.toml"}),
            (Labels{"6 ohm", "6 ohm (2)", "6 ohm [six.toml]"}));
}

}  // namespace
}  // namespace ohmtilt
