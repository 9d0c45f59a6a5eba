#pragma once
#include <algorithm>
#include <string>
#include <string_view>

namespace ohmtilt {

/// The number of the one character that valid UTF-8 holds.
char32_t code_point(std::string_view character);

/// Bytes of the character at the start of valid UTF-8.
inline std::size_t length_of(std::string_view text) {
  const auto first = static_cast<unsigned char>(text[0]);
  const std::size_t length = first < 0x80 ? 1 : first < 0xe0 ? 2 : first < 0xf0 ? 3 : 4;
  return std::min(length, text.size());
}

/// Calls use with the bytes of each character of valid UTF-8 until it returns false.
template <class Use>
void each_character(std::string_view text, const Use& use) {
  while (!text.empty()) {
    const std::size_t length = length_of(text);
    if (!use(text.substr(0, length))) return;
    text.remove_prefix(length);
  }
}

/// Characters that are obeyed instead of shown: controls (C0, DEL, C1), line and paragraph
/// separators, marks, embeddings, overrides and isolates of writing direction (Unicode 15, table
/// 23-1 and annex 9), noncharacters.
bool has_no_shape(char32_t code);

/// Whether every character of valid UTF-8 is shown, on any number of lines that end in '\n'.
bool all_shown(std::string_view text);

/// bytes as a name can be shown anywhere, whatever it is from: valid UTF-8 (U+FFFD for what is not),
/// a line end as the mark U+21B5, a tab as a blank, U+FFFD for all else that has no shape.
std::string one_line(std::string_view bytes);

/// The same for text of several lines: line ends stay.
std::string shown_lines(std::string_view bytes);

}  // namespace ohmtilt
