#pragma once
#include <cstddef>
#include <filesystem>
#include <string>

namespace ohmtilt {

struct TextFileOptions {
  /// A larger file is refused before it is read; the readers of tables need at most about three
  /// times this much memory.
  std::size_t most_bytes = std::size_t{256} << 20;
};

/// The text of a regular file as checked_text() returns it. Throws InputError naming the file when
/// it is missing, a directory, a pipe or device, not readable, too large, or not text.
std::string read_text_file(const std::filesystem::path& file, const TextFileOptions& options = {});

/// bytes as text with "\n" line ends (CRLF and lone CR are turned into it) and without a UTF-8 byte
/// order mark. name stands in messages. Throws InputError when there are no bytes, or they are
/// UTF-16 or UTF-32, or binary (a NUL byte). Bytes that are not valid UTF-8 are left as they are.
std::string checked_text(std::string bytes, const std::string& name);

}  // namespace ohmtilt
