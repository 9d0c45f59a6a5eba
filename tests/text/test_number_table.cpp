#include <gmock/gmock.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/number_table.h>
#include <clocale>
#include <limits>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using namespace std::string_literals;
using testing::AllOf;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

NumberTable table(const std::string& text, const NumberTableOptions& options = {}) {
  return parse_number_table(text, "t.csv", options);
}

std::string refused_table(const std::string& text, const NumberTableOptions& options = {}) {
  return test::message([&] { table(text, options); });
}

NumberTableOptions two_columns() {
  NumberTableOptions options;
  options.least_columns = 2;
  return options;
}

// Every text here is the same table in another dress.
struct Dress {
  const char* name;
  const char* text;
  Separator separator;
  DecimalMark mark;
};

class SameTable : public testing::TestWithParam<Dress> {};

TEST_P(SameTable, IsReadTheSame) {
  const NumberTable read = table(GetParam().text);
  ASSERT_EQ(read.column_count(), 2u);
  EXPECT_THAT(read.columns[0], ElementsAre(20, 40.5));
  EXPECT_THAT(read.columns[1], ElementsAre(16.25, -17));
  EXPECT_EQ(read.separator, GetParam().separator);
  EXPECT_EQ(read.decimal_mark, GetParam().mark);
}

INSTANTIATE_TEST_SUITE_P(
    Dresses, SameTable,
    testing::Values(
        Dress{"comma", "20,16.25\n40.5,-17\n", Separator::comma, DecimalMark::point},
        Dress{"comma_blank", "20, 16.25\n40.5 , -17", Separator::comma, DecimalMark::point},
        Dress{"semicolon", "20;16.25\n40.5;-17\n", Separator::semicolon, DecimalMark::point},
        Dress{"semicolon_comma", "20;16,25\n40,5;-17\n", Separator::semicolon, DecimalMark::comma},
        Dress{"tab", "20\t16.25\n40.5\t-17\n", Separator::tab, DecimalMark::point},
        Dress{"tab_comma", "20\t16,25\n40,5\t-17\n", Separator::tab, DecimalMark::comma},
        Dress{"blanks", "  20   16.25  \n40.5 -17 \n", Separator::blanks, DecimalMark::point},
        Dress{"blanks_comma", "20 16,25\n40,5 -17\n", Separator::blanks, DecimalMark::comma},
        Dress{"quoted", "\"20\",\"16.25\"\n\"40.5\",\"-17\"\n", Separator::comma,
              DecimalMark::point},
        Dress{"quoted_comma", "\"20\",\"16,25\"\n\"40,5\",\"-17\"\n", Separator::comma,
              DecimalMark::comma},
        Dress{"exponent", "2e1,1.625E+01\n4.05e1,-1.7e1\n", Separator::comma, DecimalMark::point},
        Dress{"plus_and_true_minus",
              "+20,+16.25\n40.5,\xe2\x88\x92"
              "17\n",
              Separator::comma, DecimalMark::point},
        Dress{"trailing_separator", "20,16.25,\n40.5,-17,\n", Separator::comma, DecimalMark::point},
        Dress{"trailing_comment", "20,16.25 # first\n40.5,-17 // second\n", Separator::comma,
              DecimalMark::point},
        Dress{"blank_lines", "\n20,16.25\n\n \t\n40.5,-17\n\n", Separator::comma,
              DecimalMark::point},
        Dress{"hint", "sep=;\n20;16.25\n40.5;-17\n", Separator::semicolon, DecimalMark::point},
        Dress{"header_tells", "f,z\n20,0,16,25\n40,5,-17,0\n", Separator::every_second_comma,
              DecimalMark::comma}),
    [](const auto& dress) { return std::string(dress.param.name); });

TEST(NumberTable, PassesOverEveryStyleOfComment) {
  const NumberTable read = table(
      "# a\n; b\n* c\n! d\n% e\n// f\n\"quoted text\"\n'more of it'\n20,16\n# between\n40,17\n* "
      "end\n",
      two_columns());
  EXPECT_THAT(read.columns[0], ElementsAre(20, 40));
  EXPECT_FALSE(read.has_header());
  EXPECT_THAT(read.warnings, IsEmpty());
}

TEST(NumberTable, KeepsNotes) {
  const NumberTable read =
      table("# Title:  A: b \n* Condition: worn\n20,16\n40,17\n", two_columns());
  EXPECT_EQ(read.note("title"), "A: b");
  EXPECT_EQ(read.note("condition"), "worn");
  EXPECT_EQ(read.note("origin"), std::nullopt);
  EXPECT_EQ(read.notes[1].line, 2);
}

TEST(NumberTable, TakesNamesFromTheHeader) {
  EXPECT_THAT(table("f,z\n20,16\n").names, ElementsAre("f", "z"));
  EXPECT_THAT(table("\"f (Hz)\",\"z, at 1 V\"\n20,16\n").names, ElementsAre("f (Hz)", "z, at 1 V"));
  EXPECT_THAT(table("f,z,\n20,16,\n").names, ElementsAre("f", "z"));
  EXPECT_THAT(table("load volt\n20 1.5\n").names, ElementsAre("load", "volt"));
  EXPECT_THAT(table("Freq [Hz] Load [Ohm]\n20 16\n").names, ElementsAre("Freq [Hz]", "Load [Ohm]"));
  EXPECT_THAT(table("Output volt  Load\n20   16\n").names, ElementsAre("Output volt", "Load"));
}

TEST(NumberTable, JoinsALineOfUnitsToTheNames) {
  const NumberTable read = table("f\tz\nHz\tOhm\n20\t16\n");
  EXPECT_THAT(read.names, ElementsAre("f (Hz)", "z (Ohm)"));
  EXPECT_EQ(read.header_line, 1);
}

TEST(NumberTable, SaysWhatItSkipped) {
  const NumberTable read = table("Bench two\nmeasured twice\nf,z\n20,16\n");
  EXPECT_THAT(read.names, ElementsAre("f", "z"));
  EXPECT_THAT(read.warnings, ElementsAre("2 lines of text above the header skipped"));
}

TEST(NumberTable, TakesACommentAsHeaderOnlyWhenTheCallerKnowsTheNames) {
  NumberTableOptions options;
  options.is_name = [](std::string_view name) { return name == "f" || name == "z"; };
  const NumberTable read = table("# f z\n# made up\n20 16\n", options);
  EXPECT_THAT(read.names, ElementsAre("f", "z"));
  EXPECT_THAT(read.warnings,
              ElementsAre(HasSubstr("taken from the comment on line 1: \"f\" and \"z\"")));
  EXPECT_FALSE(table("# f z\n20 16\n").has_header());
  EXPECT_FALSE(table("# f y\n20 16\n", options).has_header());
}

TEST(NumberTable, ReadsColumnsThatNobodyKnowsLoosely) {
  NumberTableOptions options;
  options.is_name = [](std::string_view name) { return name == "f" || name == "z"; };
  for (const char* text : {"f;z;status\n20;16,5;OK\n40;17;\n", "f,z,status\n20,16.5,OK\n40,17,\n",
                           "status;f;z\n1;20;16.5\n2 of 2;40;17\n", "f;z;x\n20;16.5;\n40;17;\n"}) {
    const NumberTable read = table(text, options);
    ASSERT_EQ(read.column_count(), 3u) << text;
    EXPECT_THAT(read.columns[read.names[0] == "f" ? 1 : 2], ElementsAre(16.5, 17)) << text;
  }
  EXPECT_THAT(refused_table("f;z;status\n20;16;OK\n40;;\n", options),
              HasSubstr("t.csv:3:4: the cell is"));
  EXPECT_THAT(refused_table("20;16;OK\n40;17;OK\n", options),
              HasSubstr("\"OK\" stands where a number"));
}

TEST(NumberTable, TakesRunsOfTabsAsOneWhereAllRowsHaveThem) {
  const NumberTable read = table("Freq (Hz)\t\tZ\n20\t\t15.1\n40\t\t\t16\n");
  EXPECT_THAT(read.names, ElementsAre("Freq (Hz)", "Z"));
  EXPECT_THAT(read.columns[1], ElementsAre(15.1, 16));
  EXPECT_THAT(refused_table("f\tx\tz\n20\t\t15.1\n40\t\t16\n"), HasSubstr("the cell is empty"));
}

TEST(NumberTableRefuses, RowsThatLostTheirFirstCell) {
  EXPECT_THAT(
      refused_table("Hz;ohm\n20;15\n;90\n1000;16\n"),
      HasSubstr("t.csv:3: the row begins with \";\" where its first number belongs; write"));
  EXPECT_THAT(refused_table("20,15\n*1000,90\n2000,16\n"),
              HasSubstr("t.csv:2: the row begins with \"*\""));
  EXPECT_THAT(table("20;15\n; second half, 16 kHz\n40;16\n* * *\n#30;2\n").columns[0],
              ElementsAre(20, 40));
}

TEST(NumberTableRefuses, ThousandsMarksAndOtherExponents) {
  for (const char* cell : {"1 000", "1'000", "12 345,5"})
    EXPECT_THAT(refused_table("20;15\n"s + cell + ";16\n"),
                HasSubstr("leave out the mark between thousands"))
        << cell;
  EXPECT_THAT(refused_table("2.0D+01,15\n4.0D+01,16\n"),
              HasSubstr("write the exponent with the letter E"));
}

TEST(NumberTable, KnowsThePlaceOfEachCell) {
  const NumberTable read = table("# x\nf;z\n\n  20 ; 16,5\n40;17\n");
  EXPECT_EQ(to_string(read.place(0, 0)), "t.csv:4:3");
  EXPECT_EQ(to_string(read.place(0, 1)), "t.csv:4:8");
  EXPECT_EQ(to_string(read.place(1, 1)), "t.csv:5:4");
  EXPECT_EQ(read.cell(0, 1), "16,5");
}

TEST(NumberTable, DescribesItsLayout) {
  EXPECT_EQ(table("20,16\n", two_columns()).layout_text(),
            "comma-separated, decimal point, no header");
  EXPECT_EQ(table("# x\nf;z\n20;16,5\n").layout_text(),
            "semicolon-separated, decimal comma, header on line 2");
}

TEST(NumberTable, LetsInfinityThroughForItsCallers) {
  EXPECT_THAT(table("load_ohm,volt\n32,1.9\ninf,2\n").columns[0],
              ElementsAre(32, std::numeric_limits<double>::infinity()));
}

TEST(NumberTable, AsksTheCallerForOtherSpellings) {
  NumberTableOptions codes;
  codes.other_number = [](std::string_view cell) {
    return cell == "R33" ? std::optional(0.33) : std::nullopt;
  };
  EXPECT_THAT(table("R33\n4.7\n", codes).columns[0], ElementsAre(0.33, 4.7));
  EXPECT_THAT(table("ohm\n4.7\nR33\n", codes).columns[0], ElementsAre(4.7, 0.33));
}

TEST(NumberTable, RefusesTextWhereANumberBelongs) {
  EXPECT_THAT(refused_table("f,z\n20,16\n40,abc\n"),
              AllOf(HasSubstr("t.csv:3:4: \"abc\" stands where a number belongs"),
                    HasSubstr("begin the line with '#'")));
  EXPECT_THAT(refused_table("f,z\n20,16\nabc,17\n"), HasSubstr("t.csv:3:1: \"abc\" stands"));
  EXPECT_THAT(refused_table("abc,16\n40,17\n"), HasSubstr("t.csv:1:1: \"abc\" stands"));
  EXPECT_THAT(refused_table("f,z\n20,16 ohm\n"), HasSubstr("put its unit in the header"));
  EXPECT_THAT(refused_table("f,z\n20,\n40,17\n"), HasSubstr("t.csv:2:4: the cell is empty"));
  EXPECT_THAT(refused_table("f,z,p\n20,,1\n"),
              HasSubstr("t.csv:2:4: the cell is empty; write a number"));
  EXPECT_THAT(refused_table("f,z\n20,1.2.3\n"),
              HasSubstr("\"1.2.3\" stands where a number belongs"));
  EXPECT_THAT(refused_table("f,z\n20,1e999\n"), HasSubstr("\"1e999\""));
}

// Found by the fuzz target's replay: a line of numbers that was taken for a header.
TEST(NumberTable, ACellWithoutAValueIsACellAndNoComment) {
  for (const char* word : {"#N/A", "n/a", "#DIV/0!", "#VALUE!", "-"}) {
    const std::string text = std::string("f,z,p\n20,16,1\n40,") + word + ",2\n";
    EXPECT_THAT(refused_table(text), HasSubstr("t.csv:3:4: \"" + std::string(word) + "\""));
    EXPECT_THAT(refused_table(text), HasSubstr("remove the row"));
    const std::string last = std::string("f,z\n20,16\n40,") + word + "\n";
    EXPECT_THAT(refused_table(last), HasSubstr("t.csv:3:4: \"" + std::string(word) + "\""));
  }
}

TEST(NumberTable, ReadsNumbersInSingleQuotes) {
  EXPECT_THAT(table("'20',16\n40,17\n", two_columns()).columns[0], ElementsAre(20, 40));
  EXPECT_THAT(refused_table("',5';16\n40;17\n"), HasSubstr("t.csv:1"));
}

TEST(NumberTable, RefusesTwoDecimalMarksAndGroupedThousands) {
  EXPECT_THAT(refused_table("f;z\n20;16.5\n1.000,5;17\n"),
              AllOf(HasSubstr("t.csv:3:1: \"1.000,5\""), HasSubstr("use one decimal mark")));
}

TEST(NumberTable, RefusesRowsOfUnequalLength) {
  EXPECT_THAT(refused_table("f,z\n20,16\n40,17,3\n"),
              AllOf(HasSubstr("t.csv:3: 3 columns here, but 2 on line 2"),
                    HasSubstr("give every row the same columns")));
  EXPECT_THAT(refused_table("f;z\n20;16\n40\n"),
              HasSubstr("t.csv:3: 1 column here, but 2 on line 2"));
}

TEST(NumberTable, RefusesAHeaderThatDoesNotFit) {
  EXPECT_THAT(refused_table("f,z,p\n20.5,16\n"),
              AllOf(HasSubstr("t.csv:1:1: \"f,z,p\" gives 3 names for 2 columns of numbers"),
                    HasSubstr("begin lines that are no header with '#'")));
}

TEST(NumberTable, RefusesAFileWithoutNumbers) {
  EXPECT_THAT(refused_table("f,z\n# only words\n"),
              HasSubstr("t.csv: there is no line of numbers in it"));
  EXPECT_THAT(refused_table(" \n\n"), HasSubstr("there is no line of numbers"));
}

TEST(NumberTable, RefusesTooFewColumns) {
  EXPECT_THAT(refused_table("# x\n20\n40\n", two_columns()),
              AllOf(HasSubstr("t.csv:2: one column of numbers where at least 2 are needed"),
                    HasSubstr("put commas")));
}

// commands.md "Limits": both readings are shown.
TEST(NumberTable, RefusesCommasThatCouldBeEither) {
  EXPECT_THAT(
      refused_table("20,5,16,2\n40,5,17,2\n", two_columns()),
      AllOf(HasSubstr(
                "t.csv:1:1: \"20,5,16,2\" can be read as 20, 5, 16 and 2 (commas between columns)"),
            HasSubstr("or as 20.5 and 16.2 (decimal commas)"),
            HasSubstr("put semicolons between the columns, or a header")));
  EXPECT_THAT(refused_table("20,16,3\n40,17,4\n", two_columns()),
              HasSubstr("or as 20.16 and 3 (decimal commas)"));
  EXPECT_THAT(refused_table("20,16\n40,17\n"),
              HasSubstr("20 and 16 (commas between columns) or as 20.16"));
}

TEST(NumberTable, IsNotInDoubtWhereOneRowTells) {
  EXPECT_EQ(table("20,16,3\n40,17,-4\n", two_columns()).column_count(), 3u);
  EXPECT_EQ(table("20,16,3\n40,17.5,4\n", two_columns()).column_count(), 3u);
  EXPECT_EQ(table("20,16\n40,17\n", two_columns()).column_count(), 2u);
  EXPECT_EQ(table("f,z,p\n20,16,3\n40,17,4\n", two_columns()).column_count(), 3u);
}

TEST(NumberTable, LimitsRowsCellsAndLines) {
  NumberTableOptions options;
  options.most_rows = 3;
  EXPECT_THAT(refused_table("1\n2\n3\n4\n", options),
              HasSubstr("t.csv:4: there are more than 3 rows; thin the table out"));
  options.most_rows = 100;
  options.most_cells = 5;
  EXPECT_THAT(refused_table("1;2\n2;3\n3;4\n", options), HasSubstr("more than 5 cells"));
  std::string words;
  for (int i = 0; i < 10'001; ++i) words += "word\n";
  EXPECT_THAT(refused_table(words),
              HasSubstr("t.csv:10001: there are more than 10000 lines of text"));
  EXPECT_THAT(refused_table(std::string(2'000'000, '1')),
              HasSubstr("t.csv:1: the line is 2000000 bytes long"));
}

TEST(NumberTable, ReadsTheSameInEveryLocale) {
  const std::string before = std::setlocale(LC_ALL, nullptr);
  const bool there = std::setlocale(LC_ALL, "de_DE.UTF-8") ||
                     std::setlocale(LC_ALL, "fr_FR.UTF-8") || std::setlocale(LC_ALL, "C.UTF-8");
  EXPECT_TRUE(there);
  EXPECT_THAT(table("20.5,16.25\n").columns[1], ElementsAre(16.25));
  EXPECT_THAT(table("20,5;16,25\n").columns[1], ElementsAre(16.25));
  std::setlocale(LC_ALL, before.c_str());
}

TEST(NumberTable, MessagesCarryNoControlCharacters) {
  const std::string text = refused_table("f,z\n20,\x1b[31mred\x07\n");
  EXPECT_EQ(text.find('\x1b'), std::string::npos);
  EXPECT_EQ(text.find('\x07'), std::string::npos);
}

TEST(NumberTable, ReadsAMillionRows) {
  std::string text = "f,z\n";
  for (int i = 1; i <= 1'000'000; ++i) text += std::to_string(i) + ",16.5\n";
  const NumberTable read = table(text);
  EXPECT_EQ(read.row_count(), 1'000'000u);
  EXPECT_EQ(read.columns[0].back(), 1e6);
  EXPECT_EQ(read.place(999'999, 1).line, 1'000'001);
}

}  // namespace
}  // namespace ohmtilt
