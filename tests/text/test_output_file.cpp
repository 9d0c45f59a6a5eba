#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/output_file.h>

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
  std::filesystem::create_symlink("nowhere", scratch / "dangling.csv");
  EXPECT_THROW(write_file(scratch / "dangling.csv", "new", false), OutputError);
}

TEST(OutputFile, SaysWhenTheDiskIsFull) {
  if (!std::filesystem::exists("/dev/full")) GTEST_SKIP();
  // A link to /dev/full cannot be used (files are renamed into place), so the write itself is
  // tried.
  const test::Scratch scratch;
  OutputFile file(scratch / "a", false);
  const int full = ::open("/dev/full", O_WRONLY);
  ASSERT_GE(full, 0);
  ::dup2(full, file.descriptor());
  ::close(full);
  EXPECT_THROW(file.write("x"), OutputError);
}

}  // namespace
}  // namespace ohmtilt
