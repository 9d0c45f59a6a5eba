#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/inputs_read.h>
#include <algorithm>
#include <cerrno>
#include <cstring>
#include <string_view>

namespace ohmtilt {
namespace {

/// An open descriptor that closes itself.
class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {}
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  int number() const { return number_; }

 private:
  int number_;
};

InputError cannot_open(const std::string& name, int why) {
  const Place place{name};
  if (name.empty()) return InputError("the name of a file is empty", "give a file");
  if (why == ENOENT || why == ENOTDIR)
    return InputError(place, "there is no such file", "check the name and the folder");
  if (why == EACCES || why == EPERM)
    return InputError(place, "the file may not be read", "check its permissions");
  return InputError(place, std::string("the file cannot be opened: ") + std::strerror(why),
                    "check the name");
}

/// Size in bytes of what is open; refuses all but regular files.
std::size_t regular_size(const Descriptor& open, const std::string& name) {
  struct stat facts {};
  if (::fstat(open.number(), &facts) != 0) throw cannot_open(name, errno);
  if (S_ISDIR(facts.st_mode))
    throw InputError(Place{name}, "this is a directory", "give a file in it");
  if (!S_ISREG(facts.st_mode))
    throw InputError(Place{name}, "this is a pipe or a device, not a file",
                     "save the data in a file first");
  return static_cast<std::size_t>(facts.st_size);
}

InputError too_large(const std::string& name, std::size_t most_bytes) {
  return InputError(
      Place{name},
      "the file is larger than " + std::to_string(most_bytes >> 20) + " MB, the most that is read",
      "thin it out or split it");
}

std::string all_bytes(const Descriptor& open, const std::string& name, std::size_t size,
                      std::size_t most_bytes) {
  std::string bytes;
  std::size_t used = 0;
  bytes.resize(size + 1);  // one more than expected, so that the end is seen without another turn
  while (true) {
    const ssize_t got = ::read(open.number(), bytes.data() + used, bytes.size() - used);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) throw cannot_open(name, errno);
    if (got == 0) break;
    used += static_cast<std::size_t>(got);
    if (used > most_bytes) throw too_large(name, most_bytes);
    if (used == bytes.size()) bytes.resize(used + (std::size_t{1} << 16));
  }
  bytes.resize(used);
  return bytes;
}

bool has_wide_mark(std::string_view bytes) {
  using namespace std::string_view_literals;
  return bytes.starts_with("\xff\xfe"sv) || bytes.starts_with("\xfe\xff"sv);
}

bool has_four_byte_mark(std::string_view bytes) {
  using namespace std::string_view_literals;
  return bytes.starts_with("\xff\xfe\0\0"sv) || bytes.starts_with("\0\0\xfe\xff"sv);
}

/// Whether every second byte of the beginning is NUL, as Latin letters and digits are in UTF-16.
bool looks_wide(std::string_view bytes) {
  const auto head = bytes.substr(0, 512);
  if (head.size() < 4) return false;
  std::size_t nul[2] = {0, 0};
  for (std::size_t i = 0; i < head.size(); ++i)
    if (head[i] == '\0') ++nul[i % 2];
  const std::size_t most = std::max(nul[0], nul[1]);
  return most * 10 >= head.size() / 2 * 9 && std::min(nul[0], nul[1]) * 10 <= head.size() / 2;
}

void refuse_other_than_text(std::string_view bytes, const std::string& name) {
  if (bytes.empty()) throw InputError(Place{name}, "the file is empty", "give a file with data");
  if (has_four_byte_mark(bytes))
    throw InputError(Place{name}, "this is UTF-32 text", "save it as UTF-8");
  const auto nul = bytes.find('\0');
  if (nul == std::string_view::npos) return;
  throw InputError(Place{name},
                   "this is a binary file (byte " + std::to_string(nul + 1) + " is NUL)",
                   "give a text file");
}

/// One code point in UTF-8.
void append_utf8(unsigned code, std::string& text) {
  const auto add = [&](unsigned byte) { text += static_cast<char>(byte); };
  if (code < 0x80) return add(code);
  if (code < 0x800) {
    add(0xc0 | code >> 6);
  } else if (code < 0x10000) {
    add(0xe0 | code >> 12);
    add(0x80 | (code >> 6 & 0x3f));
  } else {
    add(0xf0 | code >> 18);
    add(0x80 | (code >> 12 & 0x3f));
    add(0x80 | (code >> 6 & 0x3f));
  }
  add(0x80 | (code & 0x3f));
}

/// The text of UTF-16 bytes without their byte order mark [RFC2781]. Throws where a surrogate has
/// no partner or a byte is left.
std::string utf8_from_utf16(std::string_view bytes, bool big_endian, const std::string& name) {
  const auto broken = [&] {
    return InputError(Place{name}, "this is UTF-16 text with a broken character",
                      "save it as UTF-8");
  };
  if (bytes.size() % 2 != 0) throw broken();
  const auto unit = [&](std::size_t i) {
    const auto first = static_cast<unsigned char>(bytes[i]);
    const auto second = static_cast<unsigned char>(bytes[i + 1]);
    return big_endian ? first << 8u | second : second << 8u | first;
  };
  std::string text;
  text.reserve(bytes.size() / 2);
  for (std::size_t i = 0; i < bytes.size(); i += 2) {
    unsigned code = static_cast<unsigned>(unit(i));
    if (code >= 0xdc00 && code < 0xe000) throw broken();
    if (code >= 0xd800 && code < 0xdc00) {
      i += 2;
      if (i >= bytes.size()) throw broken();
      const auto low = static_cast<unsigned>(unit(i));
      if (low < 0xdc00 || low >= 0xe000) throw broken();
      code = 0x10000 + ((code - 0xd800) << 10) + (low - 0xdc00);
    }
    append_utf8(code, text);
  }
  return text;
}

/// The bytes as UTF-8, where they are UTF-16 with or without a byte order mark.
std::string narrowed(std::string bytes, const std::string& name) {
  const bool marked = has_wide_mark(bytes);
  if (!marked && !looks_wide(bytes)) return bytes;
  const bool big_endian = marked ? bytes[0] == '\xfe' : bytes[0] == '\0';
  return utf8_from_utf16(std::string_view(bytes).substr(marked ? 2 : 0), big_endian, name);
}

void unify_line_ends(std::string& text) {
  const auto first = text.find('\r');
  if (first == std::string::npos) return;
  std::size_t out = first;
  for (std::size_t in = first; in < text.size(); ++in) {
    const bool before_newline = text[in] == '\r' && in + 1 < text.size() && text[in + 1] == '\n';
    if (!before_newline) text[out++] = text[in] == '\r' ? '\n' : text[in];
  }
  text.resize(out);
}

}  // namespace

std::string read_text_file(const std::filesystem::path& file, const TextFileOptions& options) {
  const std::string name = file.string();
  // Without O_NONBLOCK a pipe nobody writes to would be waited for before it can be refused.
  const Descriptor open(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY));
  if (open.number() < 0) throw cannot_open(name, errno);
  const std::size_t size = regular_size(open, name);
  remember_input(file);
  if (size > options.most_bytes) throw too_large(name, options.most_bytes);
  return checked_text(all_bytes(open, name, size, options.most_bytes), name);
}

std::string checked_text(std::string bytes, const std::string& name) {
  if (!has_four_byte_mark(bytes)) bytes = narrowed(std::move(bytes), name);
  refuse_other_than_text(bytes, name);
  if (bytes.starts_with("\xef\xbb\xbf")) bytes.erase(0, 3);
  if (bytes.empty()) throw InputError(Place{name}, "the file is empty", "give a file with data");
  unify_line_ends(bytes);
  return bytes;
}

}  // namespace ohmtilt
