// A bias voltage at an output drives a direct current through an earphone: every command in which a
// chain is named says so before anything else.
#include <gmock/gmock.h>

#include "tests/cli/live_template.h"
#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using testing::HasSubstr;
using testing::StartsWith;

std::string biased(const Scratch& scratch) {
  std::string text = contents(demo("bare-output.chain.toml"));
  text.insert(text.find("[source]\n") + 9, "bias_volt = 2.5\n");
  return scratch.write("biased.chain.toml", text).string();
}

TEST(BiasCaution, IsTheFirstThingThatEveryCommandSays) {
  const Scratch scratch;
  const std::string chain = biased(scratch), pair = demo("two-way-armature.earphone.toml");
  const std::string page = (scratch / "page.html").string();
  const std::string live_page = scratch.write("template.html", live_template()).string();
  const std::vector<std::vector<std::string>> lines{
      {"deviation", pair, "--to", chain},
      {"deviation", pair, "--from", chain, "--to", "6"},
      {"damping", pair, "--to", chain},
      {"headroom", chain, pair},
      {"hiss", chain, pair},
      {"crosstalk", chain, pair},
      {"survey", pair, "--sources", chain},
      {"report", chain, pair, "-o", page, "--force"},
      {"live", chain, pair, "--template", live_page, "-o", page, "--force"},
      {"pad", pair, "--source", chain, "--attenuation", "10"},
      {"flatten", pair, "--source", chain},
      {"equalize", pair, "--to", chain},
      {"solve", chain}};
  for (auto line : lines) {
    SCOPED_TRACE(testing::PrintToString(line));
    const Ran said = run(line);
    EXPECT_THAT(said.err, StartsWith("ohmtilt: caution: "));
    EXPECT_THAT(said.err.substr(0, said.err.find('\n')), HasSubstr("carries 2.5 V of bias"));
    line.push_back("--json");
    const auto warnings = run(line).json()["warnings"];
    ASSERT_FALSE(warnings.empty());
    EXPECT_THAT(warnings[0].get<std::string>(), HasSubstr("carries 2.5 V of bias"));
  }
}

}  // namespace
}  // namespace ohmtilt::test
