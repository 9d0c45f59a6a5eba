#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/output_file.h>
#include <fstream>
#include <memory>
#include <vector>

#include "tests/support.h"

namespace ohmtilt {
namespace {

std::size_t files_in(const std::filesystem::path& folder) {
  const std::filesystem::directory_iterator all(folder);
  return static_cast<std::size_t>(std::distance(begin(all), end(all)));
}

TEST(OutputFile, AppearsWholeOnCommitOnly) {
  const test::Scratch scratch;
  {
    OutputFile file(scratch / "a.csv", false);
    file.write("half");
  }
  EXPECT_EQ(files_in(scratch.folder()), 0u);
  write_file(scratch / "a.csv", "whole\n", false);
  EXPECT_EQ(test::contents(scratch / "a.csv"), "whole\n");
  EXPECT_EQ(files_in(scratch.folder()), 1u);
}

TEST(OutputFile, ReplacesOnlyWhenTold) {
  const test::Scratch scratch;
  scratch.write("a.csv", "old");
  EXPECT_THROW(write_file(scratch / "a.csv", "new", false), OutputError);
  EXPECT_EQ(test::contents(scratch / "a.csv"), "old");
  write_file(scratch / "a.csv", "new", true);
  EXPECT_EQ(test::contents(scratch / "a.csv"), "new");
}

TEST(OutputFile, DoesNotReplaceWhatAppearsMeanwhile) {
  const test::Scratch scratch;
  OutputFile file(scratch / "a.csv", false);
  file.write("mine");
  scratch.write("a.csv", "theirs");
  EXPECT_THROW(file.commit(), OutputError);
  EXPECT_EQ(test::contents(scratch / "a.csv"), "theirs");
}

TEST(OutputFile, RefusesADirectoryAndAMissingFolder) {
  const test::Scratch scratch;
  EXPECT_THROW(write_file(scratch.folder(), "x", true), OutputError);
  EXPECT_THROW(write_file(scratch / "no" / "a.csv", "x", true), OutputError);
}

// A rename would put a file in the place of the device.
TEST(OutputFile, RefusesADeviceAndAPipe) {
  const test::Scratch scratch;
  EXPECT_THROW(write_file("/dev/null", "x", true), OutputError);
  ASSERT_EQ(::mkfifo((scratch / "pipe").c_str(), 0600), 0);
  EXPECT_THROW(write_file(scratch / "pipe", "x", true), OutputError);
  EXPECT_TRUE(std::filesystem::is_fifo(scratch / "pipe"));
}

TEST(OutputFile, FollowsALinkToAFile) {
  const test::Scratch scratch;
  scratch.write("real.csv", "old");
  std::filesystem::create_symlink("real.csv", scratch / "link.csv");
  EXPECT_THROW(write_file(scratch / "link.csv", "new", false), OutputError);
  write_file(scratch / "link.csv", "new", true);
  EXPECT_TRUE(std::filesystem::is_symlink(scratch / "link.csv"));
  EXPECT_EQ(test::contents(scratch / "real.csv"), "new");
}

TEST(OutputFile, RefusesALinkThatLeadsNowhere) {
  const test::Scratch scratch;
  std::filesystem::create_symlink("nowhere", scratch / "dangling.csv");
  std::filesystem::create_symlink("round.csv", scratch / "round.csv");
  for (const bool replace : {false, true})
    for (const char* name : {"dangling.csv", "round.csv"}) {
      EXPECT_THROW(write_file(scratch / name, "new", replace), OutputError);
      EXPECT_TRUE(std::filesystem::is_symlink(scratch / name));
    }
  EXPECT_EQ(files_in(scratch.folder()), 2u);
}

mode_t mode_of(const std::filesystem::path& file) {
  struct stat facts {};
  ::stat(file.c_str(), &facts);
  return facts.st_mode & 07777;
}

TEST(OutputFile, HandsOnTheModeOfTheFileItReplaces) {
  const test::Scratch scratch;
  for (const mode_t mode : {0600u, 0640u, 0644u, 0666u, 0755u, 0200u}) {
    const auto file = scratch.write("a.csv", "old");
    ::chmod(file.c_str(), mode);
    write_file(file, "new", true);
    EXPECT_EQ(mode_of(file), mode);
  }
}

TEST(OutputFile, IsAsOpenAsTheUsersMaskSays) {
  const test::Scratch scratch;
  for (const mode_t mask : {0022u, 0077u, 0000u}) {
    const mode_t before = ::umask(mask);
    write_file(scratch / std::to_string(mask), "x", false);
    ::umask(before);
    EXPECT_EQ(mode_of(scratch / std::to_string(mask)), 0666 & ~mask);
  }
}

TEST(OutputFile, DoesNotReplaceWhatMayOnlyBeRead) {
  const test::Scratch scratch;
  const auto file = scratch.write("a.csv", "old");
  ::chmod(file.c_str(), 0444);
  EXPECT_THROW(write_file(file, "new", true), OutputError);
  EXPECT_EQ(test::contents(file), "old");
  EXPECT_EQ(mode_of(file), 0444u);
}

/// Where the file system has files without a name, nothing can be left behind, whatever happens.
TEST(OutputFile, HasNoNameUntilItIsWhole) {
  const test::Scratch scratch;
  const int unnamed = ::open(scratch.folder().c_str(), O_TMPFILE | O_WRONLY, 0600);
  if (unnamed < 0) GTEST_SKIP() << "this file system has no files without a name";
  ::close(unnamed);
  OutputFile file(scratch / "a.csv", false);
  file.write("half");
  EXPECT_EQ(files_in(scratch.folder()), 0u);
}

TEST(OutputFile, DoesNotReplaceAFileThatWasRead) {
  const test::Scratch scratch;
  const auto file = scratch.write("a.csv", "old");
  std::filesystem::create_hard_link(file, scratch / "same.csv");
  {
    const InputsRead inputs;
    write_file(file, "newer", true);
    std::filesystem::remove(scratch / "same.csv");
    std::filesystem::create_hard_link(file, scratch / "same.csv");
    read_text_file(file);
    for (const char* name : {"a.csv", "same.csv"})
      EXPECT_THROW(write_file(scratch / name, "new", true), OutputError);
    EXPECT_EQ(test::contents(file), "newer");
  }
  write_file(file, "new", true);
  EXPECT_EQ(test::contents(file), "new");
}

TEST(TemporaryName, IsRemovedWithItsFile) {
  const test::Scratch scratch;
  {
    const TemporaryName first(scratch.folder()), second(scratch.folder());
    EXPECT_STRNE(first.c_str(), second.c_str());
    std::ofstream(first.c_str()) << "half";
    EXPECT_EQ(files_in(scratch.folder()), 1u);
  }
  EXPECT_EQ(files_in(scratch.folder()), 0u);
  TemporaryName kept(scratch.folder());
  std::ofstream(kept.c_str()) << "whole";
  kept.forget();
  EXPECT_EQ(files_in(scratch.folder()), 1u);
}

TEST(TemporaryName, IsFoundByASignalHandler) {
  const test::Scratch scratch;
  std::vector<std::unique_ptr<TemporaryName>> names;
  for (int i = 0; i < 10; ++i) {
    names.push_back(std::make_unique<TemporaryName>(scratch.folder()));
    std::ofstream(names.back()->c_str()) << "half";
  }
  names.erase(names.begin() + 3);
  scratch.write(".ohmtilt-others", "theirs");
  remove_unfinished_files();
  EXPECT_EQ(files_in(scratch.folder()), 1u);
}

}  // namespace
}  // namespace ohmtilt
