#pragma once
// Text that a terminal shows and does not obey, by type: what was forgotten does not compile.
#include <iosfwd>
#include <string>
#include <string_view>

namespace ohmtilt::cli {

/// Text as it may be sent to a terminal, whatever it was made of: valid UTF-8 without controls (but
/// line ends), without marks of writing direction. Foreign text becomes one only through shown(),
/// shown_line() and shown_json().
class TerminalText {
 public:
  TerminalText() = default;
  const std::string& bytes() const { return bytes_; }
  TerminalText& operator+=(const TerminalText& more);
  friend TerminalText operator+(TerminalText first, const TerminalText& second) {
    return first += second;
  }

  /// bytes as they stand: for what this program wrote itself, never for text of a file or of the
  /// command line.
  static TerminalText written_here(std::string bytes);

 private:
  std::string bytes_;
};

/// Several lines: each '\n' stays.
TerminalText shown(std::string_view text);
/// One line with its end; line ends in text become marks.
TerminalText shown_line(std::string_view text);
/// JSON, which says the same when a character stands as \uXXXX.
TerminalText shown_json(std::string_view json);

/// Standard output or standard error: takes nothing but TerminalText.
class Terminal {
 public:
  explicit Terminal(std::ostream& stream) : stream_(stream) {}
  Terminal& operator<<(const TerminalText& text);
  /// Sends on what is held back; false when not everything could be written.
  bool flush();
  bool is(const std::ostream& stream) const { return &stream_ == &stream; }

 private:
  std::ostream& stream_;
};

}  // namespace ohmtilt::cli
