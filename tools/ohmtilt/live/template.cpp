#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/live/template.h>

#include <vector>

namespace ohmtilt::cli {
namespace {

constexpr std::string_view title_mark = "<!--ohmtilt:title-->", start_mark = "<!--ohmtilt:start-->",
                           given_mark = "<!--ohmtilt:given-->";
constexpr std::string_view generator =
    "<meta name=\"generator\" content=\"ohmtilt " OHMTILT_VERSION "\">";

/// Installed it is /usr/share/ohmtilt/live.html, built build/release/share/ohmtilt/live.html.
std::filesystem::path usual_place() {
  std::error_code code;
  const auto program = std::filesystem::read_symlink("/proc/self/exe", code);
  return program.parent_path().parent_path() / "share" / "ohmtilt" / "live.html";
}

std::string read_template(const std::optional<std::string>& file) {
  if (file) return read_text_file(*file);
  std::error_code code;
  const auto place = usual_place();
  if (!std::filesystem::exists(place, code))
    throw InputError("the live page's template is not installed (" + printable(place.string()) +
                         " is not there)",
                     "take it from the package or the release archive, build it with `sh "
                     "tools/check-live`, or name it with --template");
  return read_text_file(place);
}

/// JSON as the content of a script element that is none: no "<" begins a tag or ends it.
std::string in_element(const std::string& json) {
  std::string text;
  for (const char c : json) {
    if (c == '<')
      text += "\\u003c";
    else
      text += c;
  }
  return text;
}

/// What stands between two marks of the template.
std::string between(const std::string& html, std::string_view first, std::string_view last) {
  const std::size_t start = html.find(first);
  const std::size_t end =
      start == std::string::npos ? start : html.find(last, start + first.size());
  if (end == std::string::npos)
    throw InputError("the template of the live page has no " + std::string(first),
                     "name the live.html that belongs to this program");
  return html.substr(start + first.size(), end - start - first.size());
}

}  // namespace

LiveTemplate::LiveTemplate(const std::optional<std::string>& file) : text_(read_template(file)) {
  for (const std::string_view mark : {title_mark, start_mark, given_mark})
    if (text_.find(mark) == std::string::npos)
      throw InputError("the template of the live page has no " + std::string(mark),
                       "name the live.html that belongs to this program");
  if (text_.find(generator) == std::string::npos)
    throw InputError("the template of the live page is not of version " OHMTILT_VERSION,
                     "name the live.html that belongs to this program");
}

std::string LiveTemplate::filled(const LivePage& page) const {
  const std::vector<std::pair<std::string_view, std::string>> parts{
      {title_mark, words(page.title).html()},
      {start_mark, page.start.html()},
      {given_mark, in_element(page.given)}};
  std::string html;
  std::size_t at = 0;
  while (true) {
    std::size_t next = std::string::npos;
    const std::pair<std::string_view, std::string>* found = nullptr;
    for (const auto& part : parts)
      if (const std::size_t place = text_.find(part.first, at); place < next)
        next = place, found = &part;
    if (!found) return html + text_.substr(at);
    html += text_.substr(at, next - at) + found->second;
    at = next + found->first.size();
  }
}

LivePart LiveTemplate::part(const LivePage& page) const {
  const std::string html = filled({page.title, {}, page.given});
  const std::string shadow = "<style>" + between(html, "<style>", "</style>") + "</style>\n" +
                             between(html, "<main>", "</main>") + "<div class=\"footer\">" +
                             between(html, "<footer>", "</footer>") + "</div>";
  const std::string scripts = between(html, "</footer>", "</body>");
  return {Markup::written_here("<div id=\"ohmtilt-live\"><template shadowrootmode=\"open\">" +
                               shadow + "</template></div>\n" + scripts),
          between(html, "script-src ", ";"), between(html, "style-src ", ";")};
}

void add_template_option(Command& command, const std::string& flag,
                         std::optional<std::string>& file, const std::string& what) {
  command
      .add_option(flag, file, what + " without data [share/ohmtilt/live.html beside the program]")
      ->type_name("FILE");
}

}  // namespace ohmtilt::cli
