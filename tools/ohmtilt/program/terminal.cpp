#include <fmt/format.h>

#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/terminal.h>
#include <ostream>

namespace ohmtilt::cli {
namespace {

/// Of the first 65536 only C1 controls, separators and writing directions come here: JSON itself
/// escapes C0.
std::string json_escape(char32_t code) {
  if (code < 0x10000) return fmt::format("\\u{:04x}", static_cast<unsigned>(code));
  const auto above = static_cast<unsigned>(code) - 0x10000;
  return fmt::format("\\u{:04x}\\u{:04x}", 0xd800 + (above >> 10), 0xdc00 + (above & 0x3ff));
}

}  // namespace

TerminalText& TerminalText::operator+=(const TerminalText& more) {
  bytes_ += more.bytes_;
  return *this;
}

TerminalText TerminalText::written_here(std::string bytes) {
  TerminalText text;
  text.bytes_ = std::move(bytes);
  return text;
}

TerminalText shown(std::string_view text) { return TerminalText::written_here(shown_lines(text)); }

TerminalText shown_line(std::string_view text) {
  return TerminalText::written_here(one_line(text) + "\n");
}

TerminalText shown_json(std::string_view json) {
  if (all_shown(json)) return TerminalText::written_here(std::string(json));
  std::string result;
  each_character(json, [&](std::string_view c) {
    const char32_t code = code_point(c);
    result += c != "\n" && has_no_shape(code) ? json_escape(code) : std::string(c);
    return true;
  });
  return TerminalText::written_here(std::move(result));
}

Terminal& Terminal::operator<<(const TerminalText& text) {
  stream_ << text.bytes();
  return *this;
}

bool Terminal::flush() {
  stream_.flush();
  return static_cast<bool>(stream_);
}

}  // namespace ohmtilt::cli
