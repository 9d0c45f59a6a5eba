#include <gmock/gmock.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

using namespace std::string_literals;
using test::Scratch;
using testing::AllOf;
using testing::HasSubstr;

std::string refused(const std::filesystem::path& file, const TextFileOptions& options = {}) {
  return test::message([&] { read_text_file(file, options); });
}

std::string refused_bytes(const std::string& bytes) {
  return test::message([&] { checked_text(bytes, "in.txt"); });
}

TEST(InputFile, GivesTheWholeText) {
  const Scratch scratch;
  const std::string text = "20,16\n\n40,17 \xc3\xa9";
  EXPECT_EQ(read_text_file(scratch.write("a.csv", text)), text);
}

TEST(InputFile, NamesAMissingFile) {
  const Scratch scratch;
  EXPECT_THAT(refused(scratch / "absent.csv"),
              AllOf(HasSubstr("absent.csv: there is no such file"), HasSubstr("check the name")));
  EXPECT_THAT(refused(scratch.write("a.csv", "x") / "b.csv"), HasSubstr("there is no such file"));
}

TEST(InputFile, RefusesADirectory) {
  const Scratch scratch;
  EXPECT_THAT(refused(scratch.folder()), HasSubstr("this is a directory; give a file in it"));
}

TEST(InputFile, RefusesAPipeWithoutWaitingForIt) {
  const Scratch scratch;
  const auto pipe = scratch / "pipe";
  ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
  EXPECT_THAT(refused(pipe), HasSubstr("this is a pipe or a device, not a file"));
}

TEST(InputFile, RefusesADevice) {
  EXPECT_THAT(refused("/dev/zero"), HasSubstr("this is a pipe or a device"));
}

TEST(InputFile, RefusesAFileThatMayNotBeRead) {
  const Scratch scratch;
  const auto file = scratch.write("secret.csv", "1,2\n");
  ::chmod(file.c_str(), 0);
  const uid_t self = ::geteuid();
  // Root may read everything, so it looks as nobody (65534 on Debian).
  ASSERT_EQ(self == 0 ? ::seteuid(65534) : 0, 0);
  const std::string text = refused(file);
  ASSERT_EQ(::seteuid(self), 0);
  EXPECT_THAT(text, HasSubstr("the file may not be read; check its permissions"));
}

TEST(InputFile, RefusesAnEmptyFile) {
  const Scratch scratch;
  EXPECT_THAT(refused(scratch.write("e.csv", "")), HasSubstr("e.csv: the file is empty"));
  EXPECT_THAT(refused_bytes("\xef\xbb\xbf"), HasSubstr("the file is empty"));
}

TEST(InputFile, RefusesAFileOverTheLimitBeforeReadingIt) {
  const Scratch scratch;
  const auto file = scratch.write("large.csv", "1,2\n");
  std::filesystem::resize_file(file, std::uintmax_t{257} << 20);  // a hole: takes no room on disk
  EXPECT_THAT(refused(file), AllOf(HasSubstr("large.csv: the file is larger than 256 MB"),
                                   HasSubstr("thin it out or split it")));
  TextFileOptions options;
  options.most_bytes = std::size_t{1} << 20;
  std::filesystem::resize_file(file, (std::uintmax_t{1} << 20) + 1);
  EXPECT_THAT(refused(file, options), HasSubstr("larger than 1 MB"));
}

TEST(InputFile, RefusesABinaryFileAndSaysWhere) {
  EXPECT_THAT(refused_bytes("20,16\n\0abcdefgh"s),
              HasSubstr("in.txt: this is a binary file (byte 7 is NUL); give a text file"));
}

/// The text as UTF-16 (RFC 2781): ASCII, and one character beyond the first 65,536.
std::string utf16(const std::u16string& text, bool big_endian, bool mark) {
  std::string bytes;
  const auto add = [&](unsigned unit) {
    const char high = static_cast<char>(unit >> 8), low = static_cast<char>(unit & 0xff);
    bytes += big_endian ? high : low;
    bytes += big_endian ? low : high;
  };
  if (mark) add(0xfeff);
  for (const char16_t unit : text) add(unit);
  return bytes;
}

TEST(InputFile, ReadsUtf16InBothOrders) {
  const std::u16string text = u"Frequenz,\u03a9\r\n20,16 \U0001f600\r\n";
  for (const bool big_endian : {false, true})
    EXPECT_EQ(checked_text(utf16(text, big_endian, true), "x"),
              "Frequenz,\xce\xa9\n20,16 \xf0\x9f\x98\x80\n");
  for (const bool big_endian : {false, true})
    EXPECT_EQ(checked_text(utf16(u"20,16\n40,17\n", big_endian, false), "x"), "20,16\n40,17\n");
}

TEST(InputFile, RefusesBrokenUtf16AndUtf32) {
  const auto half = utf16(std::u16string(1, char16_t(0xd800)) + u"20,16", true, true);
  EXPECT_THAT(refused_bytes(half), HasSubstr("broken character; save it as UTF-8"));
  EXPECT_THAT(refused_bytes(utf16(u"20,16\n40,17", false, true) + "2"),
              HasSubstr("broken character"));
  EXPECT_THAT(refused_bytes("\xff\xfe\0\0"
                            "2\0\0\0"s),
              HasSubstr("UTF-32 text; save it as UTF-8"));
}

TEST(InputFile, TakesTheByteOrderMarkOffAndUnifiesLineEnds) {
  EXPECT_EQ(checked_text("\xef\xbb\xbf"
                         "a\r\nb\rc\n\r\r\n",
                         "x"),
            "a\nb\nc\n\n\n");
  EXPECT_EQ(checked_text("a\r", "x"), "a\n");
}

}  // namespace
}  // namespace ohmtilt
