#include <ohmtilt/text/strict_toml.h>

#include "tests/support.h"

namespace ohmtilt::test {
namespace {

template <class Call>
std::string error_of(const Call& call) {
  try {
    call();
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

TEST(StrictToml, ReadsEachType) {
  const auto table = parse_toml(
      "a = 1\nb = 2.5\nc = \"text\"\nd = true\ne = [1, 2.5]\nf = [\"x\"]\nr = \"4k7\"\n[t]\ng = 3\n"
      "[[u]]\nh = 1\n[[u]]\nh = 2\n",
      "x.toml");
  EXPECT_EQ(table.require_number("a"), 1);
  EXPECT_EQ(table.number_or("b", 0), 2.5);
  EXPECT_EQ(table.require_text("c"), "text");
  EXPECT_TRUE(table.flag_or("d", false));
  EXPECT_EQ(table.numbers("e"), (std::vector<double>{1, 2.5}));
  EXPECT_EQ(table.texts("f"), std::vector<std::string>{"x"});
  EXPECT_EQ(table.require_resistance("r"), 4700);
  EXPECT_EQ(table.resistance_or("a", 0), 1);
  EXPECT_EQ(table.table("t")->require_number("g"), 3);
  ASSERT_EQ(table.tables("u").size(), 2u);
  EXPECT_EQ(table.tables("u")[1].require_number("h"), 2);
  EXPECT_FALSE(table.number("missing"));
  EXPECT_EQ(table.text_or("missing", "fallback"), "fallback");
}

TEST(StrictToml, KeepsTheOrderOfTheFile) {
  const auto table = parse_toml("zebra = 1\napple = 2\nmango = 3\n", "x.toml");
  EXPECT_EQ(table.keys(), (std::vector<std::string>{"zebra", "apple", "mango"}));
}

TEST(StrictToml, SaysWhereAndWhat) {
  const auto table = parse_toml("ok = 1\nohm = \"text\"\n", "x.toml").named("part \"R1\"");
  EXPECT_EQ(
      error_of([&] { table.require_number("ohm"); }),
      "x.toml:2:7: part \"R1\": `ohm` should be a number and is text in quotes; write a number");
  EXPECT_NE(error_of([&] { table.require_number("volt"); }).find("`volt` is missing"),
            std::string::npos);
  EXPECT_NE(error_of([&] {
              table.refuse_unknown_keys({"ohms", "ok"});
            }).find("x.toml:2:1"),
            std::string::npos);
  EXPECT_NE(error_of([&] {
              table.refuse_unknown_keys({"ohms", "ok"});
            }).find("did you mean `ohms`"),
            std::string::npos);
}

TEST(StrictToml, RefusesHostileText) {
  EXPECT_NE(error_of([] { parse_toml("a = ", "x.toml"); }).find("x.toml:1:"), std::string::npos);
  EXPECT_NE(
      error_of([] { parse_toml(std::string("a = 1\nb\0 = 2", 12), "x.toml"); }).find("x.toml:2:2"),
      std::string::npos);
  EXPECT_NE(error_of([] { parse_toml("a = 1\na = 2\n", "x.toml"); }), "");
  EXPECT_NE(error_of([] { parse_toml("a = \"\xff\xfe\"\n", "x.toml"); }), "");
  std::string deep = "a";
  for (int k = 0; k < 200000; ++k) deep += ".a";
  EXPECT_NE(error_of([&] { parse_toml(deep + " = 1\n", "x.toml"); }).find("too deep"),
            std::string::npos);
  EXPECT_NE(error_of([&] { parse_toml("a = " + std::string(100000, '[') + "\n", "x.toml"); }), "");
  const std::string large(toml_byte_limit + 1, '#');
  EXPECT_NE(error_of([&] { parse_toml(large, "x.toml"); }).find("16 MB"), std::string::npos);
  EXPECT_NE(error_of([] { parse_toml("a = 1e999\n", "x.toml").require_number("a"); }), "");
}

TEST(StrictToml, LetsDotsStandInCommentsAndTexts) {
  const std::string dots(200, '.');
  const TomlTable table = parse_toml("# " + dots + "\na = \"" + dots + "\"\nb = \'" + dots +
                                         "\'\nc = \"\"\"\n" + dots + "\"\n" + dots + "\"\"\"\n",
                                     "t.toml");
  EXPECT_EQ(table.require_text("a"), dots);
  std::string deep = "a";
  for (int i = 0; i < 200; ++i) deep += ".\"b\"";
  EXPECT_THROW(parse_toml("x = {c = \"\"\"p\"q\"\"\", " + deep + " = 1}\n", "t.toml"), InputError);
  EXPECT_THROW(parse_toml("x = \"\\\"\"\n" + deep + " = 1\n", "t.toml"), InputError);
}

TEST(StrictToml, SaysThatANumberHasACommaInIt) {
  EXPECT_EQ(error_of([] { parse_toml("[source]\noutput_ohm = 0,3 # low\n", "x.toml"); }),
            "x.toml:2:15: a comma in the number 0,3; write 0.3 with a point");
  EXPECT_EQ(error_of([] { parse_toml("a = -10,25", "x.toml"); }),
            "x.toml:1:8: a comma in the number -10,25; write -10.25 with a point");
  for (const char* other : {"a = ,3\n", "a = x,3\n", "a, b = 3\n", "a = 3,\n", "a =\n, 3"})
    EXPECT_EQ(error_of([&] { parse_toml(other, "x.toml"); }).find("a comma in"), std::string::npos)
        << other;
}

TEST(StrictToml, NamesTheKeysThatSayTheUnit) {
  const auto table = parse_toml("sensitivity = 110\n", "x.toml");
  EXPECT_NE(error_of([&] {
              table.refuse_unknown_keys({"sensitivity_hz", "sensitivity_db_per_volt", "title"});
            }).find("sensitivity_hz and sensitivity_db_per_volt"),
            std::string::npos);
}

TEST(StrictToml, LimitsArrays) {
  const auto table = parse_toml("a = [1, 2, 3]\nb = [1, \"x\"]\n", "x.toml");
  EXPECT_NE(error_of([&] { table.numbers("a", 2); }).find("more than 2"), std::string::npos);
  EXPECT_NE(error_of([&] { table.numbers("b"); }), "");
}

TEST(StrictToml, QuotesAnyText) {
  const std::string text = "a\"b\\c\n\x01 \xc3\xa9";
  EXPECT_EQ(parse_toml("t = " + toml_quoted(text) + "\n", "x").require_text("t"),
            "a\"b\\c\u21b5\ufffd \u00e9");  // as it may be shown
}

}  // namespace
}  // namespace ohmtilt::test
