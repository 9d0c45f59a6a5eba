// Numbers and words of the command line: one grammar, bounds and defaults from the definition.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/command_line.h>
#include <optional>
#include <random>
#include <string>
#include <vector>

namespace ohmtilt::cli {
namespace {

using ::testing::HasSubstr;

/// What the words make of the value; the message where they are refused.
template <class Value>
std::string refusal(Value& value, const NumberRule& rule, const std::vector<std::string>& words) {
  Command program("program");
  program.add_number("--number", value, rule, "a number");
  try {
    program.parse(words);
  } catch (const InputError& error) {
    return error.what();
  }
  return "";
}

TEST(OptionReader, TakesWhatLiesWithinTheBoundsAndNothingElse) {
  std::mt19937_64 random(7);
  std::uniform_real_distribution<double> within(-30, 30);
  for (int i = 0; i < 300; ++i) {
    const double given = std::round(4 * within(random)) / 4;
    const NumberRule rule{.least = -20, .most = 20, .whole = i % 2 == 0, .inside = i % 3 == 0};
    const bool whole = !rule.whole || given == std::floor(given);
    const bool bounded = rule.inside ? std::abs(given) < 20 : std::abs(given) <= 20;
    double value = 99;
    const std::string said = refusal(value, rule, {"--number", number_text(given)});
    EXPECT_EQ(said.empty(), whole && bounded) << given << ": " << said;
    EXPECT_EQ(value, said.empty() ? given : 99) << given;
  }
}

TEST(OptionReader, SaysWhatItWouldTake) {
  int value = 5;
  EXPECT_EQ(refusal(value, {.least = 2, .most = 20, .whole = true}, {"--number", "2.5"}),
            "--number 2.5 is not allowed; give a whole number from 2 to 20");
  EXPECT_EQ(refusal(value, {.least = 0, .inside = true}, {"--number", "0"}),
            "--number 0 is not allowed; give a number above 0");
  EXPECT_EQ(refusal(value, {}, {"--number", "ten"}),
            "--number \"ten\" is not a number; give a number, such as 12.5");
  for (const char* hostile : {"0x10", "nan", "inf", "1e999", "", " ", "1,5", "--5", "1 2"})
    EXPECT_NE(refusal(value, {}, {"--number", hostile}), "") << hostile;
  EXPECT_EQ(value, 5);
}

TEST(OptionReader, NamesTheDefaultThatItHas) {
  double crest_db = 20;
  std::optional<int> order;
  Command program("program");
  program.add_number("--crest", crest_db, {.unit = "DB"}, "peaks");
  program.add_number("--order", order,
                     {.least = 2, .most = 60, .whole = true, .otherwise = "chosen"}, "order");
  const auto options = program.facts().options;
  const auto described = [&](const std::string& flag) {
    for (const auto& option : options)
      if (option.flags.back() == flag) return option.value + ": " + option.description;
    return std::string();
  };
  EXPECT_EQ(described("--crest"), "DB: peaks [20]");
  EXPECT_EQ(described("--order"), "NUMBER: order, 2 to 60 [chosen]");
  program.parse({"--order", "7"});
  EXPECT_EQ(order, 7);
  EXPECT_EQ(crest_db, 20);
}

// What a whole number's type does not hold is no number of it, whatever the rule says.
TEST(OptionReader, TakesNoWholeNumberThatItsTypeDoesNotHold) {
  int value = 5;
  std::uint64_t seed = 5;
  for (const char* beyond : {"2147483648", "-2147483649", "1e300", "-1e300"})
    EXPECT_NE(refusal(value, {.whole = true}, {"--number", beyond}), "") << beyond;
  for (const char* beyond : {"-1", "18446744073709551616", "9007199254740993e3"})
    EXPECT_NE(refusal(seed, {.whole = true}, {"--number", beyond}), "") << beyond;
  EXPECT_EQ(refusal(value, {.whole = true}, {"--number", "2147483647"}), "");
  EXPECT_EQ(value, 2147483647);
  EXPECT_EQ(seed, 5u);
}

// Of numbers and of words alike: the flag tells that something was given, whatever it was.
TEST(OptionReader, SetsAFlagWhereItIsGiven) {
  for (const std::vector<std::string>& words : std::vector<std::vector<std::string>>{
           {}, {"--number", "5"}, {"--wires", "three"}, {"--other", "2"}}) {
    double number = 5, other = 1;
    int wires = 3;
    bool given = false;
    Command program("program");
    program.add_number("--number", number, {}, "a number")->sets(given);
    program.add_choice<int>("--wires", wires, {{"three", 3}, {"four", 4}}, "wires")->sets(given);
    program.add_number("--other", other, {}, "another number");
    program.parse(words);
    EXPECT_EQ(given, !words.empty() && words[0] != "--other") << words.size();
  }
}

TEST(OptionReader, TakesOneOfItsWords) {
  int wires = 3;
  Command program("program");
  program.add_choice<int>("--wires", wires, {{"three", 3}, {"four", 4}, {"five", 5}}, "wires");
  EXPECT_EQ(program.facts().options.back().description, "wires [three]");
  EXPECT_EQ(program.facts().options.back().choices,
            (std::vector<std::string>{"three", "four", "five"}));
  program.parse({"--wires", "four"});
  EXPECT_EQ(wires, 4);
  try {
    program.parse({"--wires", "six"});
    FAIL() << "took a word that is none";
  } catch (const InputError& error) {
    EXPECT_STREQ(error.what(), "--wires \"six\" is not known; say three, four or five");
  }
}

}  // namespace
}  // namespace ohmtilt::cli
