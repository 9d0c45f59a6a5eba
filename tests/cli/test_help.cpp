// What --help says: an example for every command, and it runs.
#include <sstream>

#include <gmock/gmock.h>
#include <tools/ohmtilt/program/program.h>
#include <tools/ohmtilt/program/run.h>

#include "tests/cli/live_template.h"
#include "tests/cli/shell.h"

namespace ohmtilt::test {
namespace {

using cli::CommandFacts;

/// Every command that has none below it.
void collect(const CommandFacts& command, std::vector<CommandFacts>& leaves) {
  if (command.commands.empty()) leaves.push_back(command);
  for (const auto& sub : command.commands) collect(sub, leaves);
}

std::vector<CommandFacts> leaves() {
  std::vector<CommandFacts> result;
  collect(cli::program_facts(), result);
  return result;
}

std::vector<std::string> words_of(const std::string& path) {
  std::vector<std::string> words;
  std::istringstream stream(path.substr(std::string("ohmtilt").size()));
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

std::string help(const std::string& path) {
  auto words = words_of(path);
  words.push_back("--help");
  const Ran ran = run(words);
  EXPECT_EQ(ran.status, 0) << path;
  return ran.out;
}

/// The examples in a help text as they would be copied from the terminal.
std::vector<std::string> examples(const std::string& help) {
  std::vector<std::string> result;
  std::istringstream lines(help);
  bool inside = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.starts_with("Example")) {
      inside = true;
      result.emplace_back();
    } else if (line.empty()) {
      inside = false;
    } else if (inside) {
      result.back() += line + "\n";
    }
  }
  return result;
}

class DemoCopy {
 public:
  DemoCopy() {
    std::filesystem::copy(source_dir() / "impedance-curves", scratch_ / "impedance-curves",
                          std::filesystem::copy_options::recursive);
  }
  const std::filesystem::path& folder() const { return scratch_.folder(); }

 private:
  Scratch scratch_;
};

void expect_runs(const std::string& example) {
  SCOPED_TRACE(example);
  const DemoCopy demo;
  const Scratch scratch;
  std::string command = example;
  if (command.find("ohmtilt live") != std::string::npos)  // its own is built apart
    command.insert(command.find_last_not_of("\n") + 1,
                   " --template " + scratch.write("live.html", live_template()).string());
  const Ran ran = shell(demo.folder(), command);
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_NE(ran.out, "");
  EXPECT_THAT(left_over(demo.folder()), testing::IsEmpty());
}

TEST(Help, EachCommandHasOneExampleThatRuns) {
  const auto commands = leaves();
  ASSERT_GE(commands.size(), 15u);
  for (const auto& command : commands) {
    SCOPED_TRACE(command.path);
    const auto found = examples(help(command.path));
    ASSERT_EQ(found.size(), 1u);
    EXPECT_THAT(found[0], testing::HasSubstr(command.path));
    expect_runs(found[0]);
  }
}

TEST(Help, TheProgramHasAnExampleForEachOfItsReadersAndTheyRun) {
  const auto found = examples(help("ohmtilt"));
  EXPECT_EQ(found.size(), 3u);
  for (const auto& example : found) expect_runs(example);
}

// 80 columns; an option's name may be longer than that by itself.
TEST(Help, FitsATerminal) {
  for (const auto& command : leaves()) {
    std::istringstream lines(help(command.path));
    for (std::string line; std::getline(lines, line);)
      EXPECT_LE(line.size(), 80u) << command.path << ": " << line;
  }
}

TEST(Help, SaysWhatEachOptionIs) {
  for (const auto& command : leaves()) {
    EXPECT_NE(command.group, "") << command.path;
    EXPECT_NE(command.description, "") << command.path;
    for (const auto& option : command.options)
      EXPECT_NE(option.description, "") << command.path << " " << option.flags[0];
  }
}

TEST(Usage, NamesWhatIsWrongAndWhatIsNear) {
  expect_refused(run({"deviaton", "x.csv"}), "did you mean deviation?");
  expect_refused(run({"deviation", "x.csv", "--tow", "6"}), "did you mean --to?");
  expect_refused(run({"deviation"}), "ohmtilt deviation [OPTIONS] earphone");
  expect_refused(run({"deviation", "x.csv", "--to"}), "--to needs a value");
  expect_refused(run({"deviation", "x.csv", "--from", "1", "--from", "2"}), "more than once");
  expect_refused(run({"headroom", "a", "b", "c"}), "too many words");
  expect_refused(run({"--json", "deviation"}), "behind a command");
  expect_refused(run({"acquire", "impedence"}), "did you mean impedance?");
  expect_refused(run({"acquire", "stimulus", "--seconds", "ten", "--write", "x.wav"}),
                 "--seconds \"ten\" is not a number");
  expect_refused(run({"deviation", "-quite.different.csv"}), "./-quite.different.csv");
  expect_refused(run({}), "ohmtilt needs a command, one of: deviation");
}

TEST(Version, NamesTheLibrariesBelowItsFirstLine) {
  const Ran ran = run({"--version"});
  EXPECT_EQ(ran.out.substr(0, ran.out.find('\n')), "ohmtilt " + project_version());
  for (const char* name : {"Eigen 3.", "Boost 1.", "CLI11 2.", "toml++ 3.", "nlohmann-json 3.",
                           "fmt ", "libsndfile-1.", "oneTBB 2", "gnuplot "})
    EXPECT_THAT(ran.out, testing::HasSubstr(name));
}

TEST(Version, SaysThatGnuplotIsMissing) {
  const Scratch empty;
  const Ran ran = shell(empty.folder(),
                        "program=$(command -v ohmtilt); PATH=/nowhere; "
                        "$program --version");
  EXPECT_EQ(ran.status, 0);
  EXPECT_THAT(ran.out, testing::HasSubstr("install the package gnuplot-nox"));
}

}  // namespace
}  // namespace ohmtilt::test
