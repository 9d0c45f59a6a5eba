#include <plots/text.h>
#include <tools/ohmtilt/report/markup.h>
#include <algorithm>

namespace ohmtilt::cli {
namespace {

std::string escaped(std::string_view text) {
  std::string blanks(text);
  std::replace(blanks.begin(), blanks.end(), '\n', ' ');
  return plots::markup_escaped(plots::drawable(blanks));
}

std::string start_tag(const char* name, const Attributes& attributes) {
  std::string text = std::string("<") + name;
  for (const auto& [key, value] : attributes)
    text += std::string(" ") + key + "=\"" + escaped(value) + "\"";
  return text + ">";
}

Markup row_of(const std::vector<std::string>& cells, std::size_t columns, bool headings) {
  Markup row;
  for (std::size_t i = 0; i < columns; ++i) {
    const std::string cell = i < cells.size() ? cells[i] : std::string();
    if (headings)
      row += element("th", {{"scope", "col"}}, words(cell));
    else if (i == 0)
      row += element("th", {{"scope", "row"}}, words(cell));
    else
      row += element("td", words(cell));
  }
  return element("tr", row);
}

}  // namespace

Markup& Markup::operator+=(const Markup& more) {
  html_ += more.html_;
  return *this;
}

Markup Markup::written_here(std::string html) {
  Markup markup;
  markup.html_ = std::move(html);
  return markup;
}

Markup words(std::string_view text) { return Markup::written_here(escaped(text)); }

Markup words_with_code(std::string_view text) {
  Markup result;
  for (bool code = false; !text.empty(); code = !code) {
    const std::size_t end = std::min(text.find('`'), text.size());
    const Markup part = words(text.substr(0, end));
    result += code ? element("code", part) : part;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return result;
}

Markup element(const char* name, const Attributes& attributes, const Markup& inner) {
  return Markup::written_here(start_tag(name, attributes) + inner.html() + "</" + name + ">");
}

Markup element(const char* name, const Markup& inner) { return element(name, {}, inner); }

Markup paragraph(std::string_view text) {
  return text.empty() ? Markup() : element("p", words_with_code(text));
}

Markup bullets(const std::vector<std::string>& texts) {
  Markup items;
  for (const auto& text : texts) items += element("li", words_with_code(text));
  return items.empty() ? items : element("ul", items);
}

Markup heading(int level, std::string_view text) {
  const std::string name = "h" + std::to_string(level);
  return element(name.c_str(), words(text));
}

Markup table(const Rows& rows, const TableOptions& options) {
  if (rows.empty()) return {};
  std::size_t columns = 0;
  for (const auto& row : rows) columns = std::max(columns, row.size());
  Markup head, body;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const bool names = options.headings && i == 0;
    (names ? head : body) += row_of(rows[i], columns, names);
  }
  Markup whole = element("caption", words(options.caption));
  if (!head.empty()) whole += element("thead", head);
  whole += element("tbody", body);
  return element(
      "div",
      {{"class", "sideways"},
       {"role", "region"},
       {"tabindex", "0"},
       {"aria-label", options.caption}},
      element("table", {{"class", options.headings || columns > 2 ? "columns" : "facts"}}, whole));
}

Markup folded(std::string_view summary, const Markup& inner) {
  return element("details", element("summary", words(summary)) + inner);
}

}  // namespace ohmtilt::cli
