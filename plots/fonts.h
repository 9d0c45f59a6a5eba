#pragma once
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ohmtilt::plots {

/// The characters that some font has.
class FontCoverage {
 public:
  /// charsets: what `fc-list --format '%{charset}\n'` prints, ranges of hexadecimal code points
  /// ("20-7e a0"); what is none is passed over.
  explicit FontCoverage(std::string_view charsets);
  bool has(char32_t code) const;

 private:
  std::vector<std::pair<char32_t, char32_t>> ranges_;  // first and last, not overlapping, rising
};

/// The fonts that fontconfig, which chooses for gnuplot, finds on this machine; nothing where it
/// does not answer.
std::optional<FontCoverage> installed_fonts();

/// Text as these fonts can draw it, and what they lack, each character once.
struct LegibleText {
  std::string text;
  std::string missing;
};

/// text, valid UTF-8, with U+FFFD for every character outside ASCII that fonts lack, or a question
/// mark if they lack that too. gnuplot's PNG, PDF and window fill the whole figure with the outline
/// of a character that no font has.
LegibleText legible(std::string_view text, const FontCoverage& fonts);

}  // namespace ohmtilt::plots
