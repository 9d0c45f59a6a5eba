// The manual and the completions that the build makes, in the programs that read them; and README.
#include <gmock/gmock.h>
#include <tools/ohmtilt/program/man_page.h>
#include <tools/ohmtilt/program/program.h>
#include <algorithm>
#include <regex>
#include <sstream>

#include "tests/cli/shell.h"

namespace ohmtilt::test {
namespace {

using testing::Contains;
using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;
using testing::Not;

std::filesystem::path share() { return test::binary_dir() / "share"; }
std::filesystem::path manual() { return share() / "man/man1"; }

bool installed(const std::string& program) {
  return shell(share(), "command -v " + program).status == 0;
}

TEST(Manual, HasAPageForTheProgramAndForEachCommand) {
  const auto program = cli::program_facts();
  EXPECT_TRUE(std::filesystem::exists(manual() / "ohmtilt.1"));
  const std::string main_page = contents(manual() / "ohmtilt.1");
  for (const auto& command : program.commands) {
    const std::string page = contents(manual() / ("ohmtilt-" + command.name + ".1"));
    EXPECT_THAT(main_page, HasSubstr(cli::troff("ohmtilt-" + command.name) + "\\fR(1)"));
    for (const auto& option : command.options)
      for (const auto& flag : option.flags) EXPECT_THAT(page, HasSubstr(cli::troff(flag)));
    for (const auto& sub : command.commands)
      EXPECT_THAT(page, HasSubstr(".SS " + cli::troff(sub.path)));
  }
}

TEST(Manual, TakesNoLetterForARequest) {
  EXPECT_EQ(cli::troff(".TH"), "\\&.TH");
  EXPECT_EQ(cli::troff("a\\fB"), "a\\efB");
  EXPECT_EQ(cli::troff("'br"), "\\(aqbr");
  EXPECT_EQ(cli::troff("--to \"6\""), "\\-\\-to \\(dq6\\(dq");
}

TEST(Manual, IsCleanTroff) {
  if (!installed("groff")) GTEST_SKIP() << "groff is not installed (Debian: groff-base)";
  for (const auto& page : std::filesystem::directory_iterator(manual())) {
    const Ran ran = shell(manual(), "groff -ww -man -Tutf8 -P-cbou " + word(page.path().string()));
    EXPECT_EQ(ran.status, 0) << page.path();
    EXPECT_EQ(ran.err, "") << page.path();
    EXPECT_THAT(ran.out, HasSubstr("SYNOPSIS"));
  }
}

TEST(Manual, IsCleanForMandoc) {
  if (!installed("mandoc")) GTEST_SKIP() << "mandoc is not installed (Debian: mandoc)";
  const Ran ran = shell(manual(), "mandoc -Tlint -Wwarning *.1");
  EXPECT_EQ(ran.status, 0) << ran.out;
  EXPECT_EQ(ran.out, "");
}

/// What bash would offer for the last of words.
std::vector<std::string> offered(const std::filesystem::path& folder,
                                 const std::vector<std::string>& words) {
  std::string line = ". " + word((share() / "bash-completion/completions/ohmtilt").string()) +
                     "; COMP_WORDS=(ohmtilt";
  for (const auto& each : words) line += " " + word(each);
  line += "); COMP_CWORD=" + std::to_string(words.size()) +
          "; _ohmtilt; printf '%s\\n' \"${COMPREPLY[@]}\"";
  const Ran ran = shell(folder, "bash --norc -c " + word(line));
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
  auto lines = lines_of(ran.out);
  std::sort(lines.begin(), lines.end());
  return lines;
}

TEST(BashCompletion, CompletesCommandsAndOptionsOfEach) {
  if (!installed("bash")) GTEST_SKIP() << "bash is not installed";
  const Scratch scratch;
  std::vector<std::string> names;
  for (const auto& command : cli::program_facts().commands) names.push_back(command.name);
  std::sort(names.begin(), names.end());
  EXPECT_EQ(offered(scratch.folder(), {""}), names);
  EXPECT_THAT(offered(scratch.folder(), {"dev"}), ElementsAre("deviation"));
  EXPECT_THAT(offered(scratch.folder(), {"acquire", "s"}), ElementsAre("source", "stimulus"));
  for (const auto& command : cli::program_facts().commands) {
    std::vector<std::string> flags;
    for (const auto& option : command.options)
      for (const auto& flag : option.flags)
        if (flag.starts_with("--")) flags.push_back(flag);
    std::sort(flags.begin(), flags.end());
    EXPECT_EQ(offered(scratch.folder(), {command.name, "--"}), flags) << command.name;
  }
}

TEST(BashCompletion, CompletesFilesAndWords) {
  if (!installed("bash")) GTEST_SKIP() << "bash is not installed";
  const Scratch scratch;
  scratch.write("my curve.csv", "");
  scratch.write("other.txt", "");
  EXPECT_THAT(offered(scratch.folder(), {"deviation", "my"}), ElementsAre("my curve.csv"));
  EXPECT_THAT(offered(scratch.folder(), {"deviation", "x", "--to", "o"}), ElementsAre("other.txt"));
  EXPECT_THAT(offered(scratch.folder(), {"deviation", "x", "--csv", "=", "o"}),
              ElementsAre("other.txt"));
  EXPECT_THAT(offered(scratch.folder(), {"crosstalk", "--idle", ""}),
              ElementsAre("driven", "open"));
  EXPECT_THAT(offered(scratch.folder(), {"crosstalk", "--idle", "o"}), ElementsAre("open"));
  EXPECT_THAT(offered(scratch.folder(), {"deviation", "x", "--points", ""}), ElementsAre(""));
}

TEST(ZshCompletion, IsCleanForZsh) {
  if (!installed("zsh")) GTEST_SKIP() << "zsh is not installed (Debian: zsh)";
  const Ran ran = shell(share() / "zsh/site-functions", "zsh -n _ohmtilt");
  EXPECT_EQ(ran.status, 0);
  EXPECT_EQ(ran.err, "");
}

TEST(FishCompletion, CompletesInFish) {
  if (!installed("fish")) GTEST_SKIP() << "fish is not installed (Debian: fish)";
  const Scratch home;
  const auto offers = [&](const std::string& line) {
    const Ran ran = shell(share() / "fish/vendor_completions.d",
                          "HOME=" + word(home.folder().string()) +
                              " fish -c 'source ohmtilt.fish; complete -C \"" + line + "\"'");
    EXPECT_EQ(ran.status, 0) << ran.err;
    return lines_of(ran.out);
  };
  EXPECT_THAT(offers("ohmtilt "), Contains(HasSubstr("deviation\t")));
  EXPECT_THAT(offers("ohmtilt acquire so"), ElementsAre(HasSubstr("source\t")));
  EXPECT_THAT(offers("ohmtilt crosstalk --idle o"), ElementsAre(HasSubstr("open")));
}

std::vector<std::smatch> matches(const std::string& text, const std::regex& pattern) {
  return {std::sregex_iterator(text.begin(), text.end(), pattern), {}};
}

TEST(Documents, PointOnlyAtFilesThatExistAndDescribeTheirPictures) {
  const std::regex link("(!?)\\[([^\\]]*)\\]\\(([^)#]+)\\)");
  for (const char* name : {"README.md", "DEVELOPERS.md", "CHANGELOG.md"}) {
    const std::string text = contents(source_dir() / name);
    for (const auto& match : matches(text, link)) {
      EXPECT_TRUE(std::filesystem::exists(source_dir() / match[3].str()))
          << name << ": " << match[3];
      if (match[1] == "!") {
        EXPECT_GE(match[2].length(), 30) << name << ": " << match[3];
      }
    }
  }
  EXPECT_GE(matches(contents(source_dir() / "README.md"), std::regex("!\\[")).size(), 4u);
}

TEST(Documents, NameEveryCommand) {
  const std::string readme = contents(source_dir() / "README.md");
  const std::string changes = contents(source_dir() / "CHANGELOG.md");
  for (const auto& command : cli::program_facts().commands) {
    EXPECT_THAT(readme, HasSubstr("`" + command.name + "`"));
    EXPECT_THAT(changes, HasSubstr("`" + command.name + "`"));
  }
}

TEST(Documents, GiveTheVersionOneDay) {
  std::smatch heading;
  const std::string changes = contents(source_dir() / "CHANGELOG.md");
  ASSERT_TRUE(std::regex_search(changes, heading, std::regex("\n## (\\S+) \\((\\S+)\\)\n")));
  EXPECT_EQ(run({"--version"}).out.rfind("ohmtilt " + heading[1].str() + "\n", 0), 0u);
  EXPECT_THAT(contents(manual() / "ohmtilt.1"),
              HasSubstr(" " + heading[2].str() + " \"ohmtilt " + heading[1].str() + "\""));
}

TEST(Documents, NameOnlyFilesOfTheDemoThatExist) {
  const std::regex file("impedance-curves/[A-Za-z0-9./-]*[a-z0-9]");
  const std::string readme = contents(source_dir() / "README.md");
  const auto found = matches(readme, file);
  EXPECT_THAT(found, Not(IsEmpty()));
  for (const auto& match : found)
    EXPECT_TRUE(std::filesystem::exists(source_dir() / match.str())) << match.str();
}

}  // namespace
}  // namespace ohmtilt::test
