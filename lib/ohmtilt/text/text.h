#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace ohmtilt {

/// The shortest decimal text that reads back to the same double, in any locale ("24.61", "1e-07").
std::string number_text(double value);

/// The double that all of text spells, in any locale; nothing if it spells none, or is out of
/// range. "inf" and "nan" are understood (callers refuse them by name).
std::optional<double> parse_number(std::string_view text);

/// text with each control character replaced by '?' and cut after max_bytes with "...": for
/// messages.
std::string printable(std::string_view text, std::size_t max_bytes = 200);

/// text without blanks, tabs and line ends at both ends.
std::string_view trimmed(std::string_view text);

/// ASCII lower case.
std::string lower(std::string_view text);

/// Valid UTF-8 for JSON, figures and pages: each byte that is not part of a valid sequence
/// becomes U+FFFD.
std::string valid_utf8(std::string_view bytes);

/// The candidate with the smallest edit distance to word (ties: the first), or nothing when even
/// that one differs in more than half of its letters.
std::optional<std::string> nearest_word(std::string_view word,
                                        const std::vector<std::string>& candidates);

/// "a, b and c".
std::string listed(const std::vector<std::string>& words);

}  // namespace ohmtilt
