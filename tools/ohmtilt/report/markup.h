#pragma once
// HTML that cannot be had without escaping.
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

/// A piece of HTML. Text becomes one only through words(), which escapes it; a piece made of pieces
/// holds nothing else.
class Markup {
 public:
  Markup() = default;
  const std::string& html() const { return html_; }
  bool empty() const { return html_.empty(); }
  Markup& operator+=(const Markup& more);
  friend Markup operator+(Markup first, const Markup& second) { return first += second; }

  /// html as it stands: for what this program wrote itself, never for text of a file.
  static Markup written_here(std::string html);

 private:
  std::string html_;
};

/// Text from anywhere: valid UTF-8, line ends as blanks, what has no shape of its own replaced, and
/// every character that means something in HTML escaped.
Markup words(std::string_view text);

/// The same, with what stands between two backquotes as <code>.
Markup words_with_code(std::string_view text);

using Attributes = std::vector<std::pair<const char*, std::string>>;
/// <name attributes>inner</name>; attributes' values may hold anything.
Markup element(const char* name, const Markup& inner);
Markup element(const char* name, const Attributes& attributes, const Markup& inner);
Markup paragraph(std::string_view text);
/// <ul>; nothing for none.
Markup bullets(const std::vector<std::string>& texts);  // with code
/// A heading of that level, 1 to 6.
Markup heading(int level, std::string_view text);

struct TableOptions {
  std::string caption;
  bool headings = true;  ///< the first row names the columns
};
/// In a box that scrolls sideways where it is wider than the page. The first cell of each row names
/// the row. Rows that are too short are filled up. Nothing for no rows.
Markup table(const Rows& rows, const TableOptions& options);

/// Folded: <details>.
Markup folded(std::string_view summary, const Markup& inner);

}  // namespace ohmtilt::cli
