// The conditions of a power point survive being written and read again.
#include <ohmtilt/chain/read_chain.h>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

TEST(PowerPoints, KeepTheirConditions) {
  Source source;
  source.power.push_back({32, 0.5, 20.0, 1.0, true, "12 V \"adapter\""});
  source.power.push_back({16, 0.4, std::nullopt, std::nullopt, std::nullopt, ""});
  source.power.push_back({16, 0.4, continuous_ms, std::nullopt, std::nullopt, ""});
  const auto read = parse_chain(chain_text(Chain("x", source, {})), "x.chain.toml", ".");
  const auto& power = read.value.source().power;
  ASSERT_EQ(power.size(), 3u);
  EXPECT_EQ(power[0].balanced, true);
  EXPECT_EQ(power[0].supply, "12 V \"adapter\"");
  EXPECT_EQ(power[0].duration_ms, 20);
  EXPECT_FALSE(power[1].duration_ms);
  EXPECT_EQ(power[2].duration_ms, continuous_ms);
  EXPECT_FALSE(power[1].balanced);
  EXPECT_EQ(power[1].supply, "");
}

}  // namespace
}  // namespace ohmtilt::test
