#include <ohmtilt/text/error.h>
#include <ohmtilt/text/output_file.h>
#include <ohmtilt/text/text.h>
#include <plots/drawing.h>
#include <plots/figure.h>
#include <plots/fonts.h>
#include <plots/script.h>
#include <plots/session.h>

#include <algorithm>
#include <cstdlib>
#include <optional>
#include <ostream>
#include <sstream>

namespace ohmtilt::plots {
namespace {

Format format_of(const std::filesystem::path& file) {
  const std::string ending = lower(file.extension().string());
  if (ending == ".svg") return Format::svg;
  if (ending == ".png") return Format::png;
  if (ending == ".pdf") return Format::pdf;
  throw InputError(Place{.file = file.string()}, "a figure's file ends in .svg, .png or .pdf",
                   "give such a name, or the word text for a figure in the terminal");
}

Format format_of(const Output& output) {
  if (output.kind == Output::Kind::text) return Format::terminal;
  return output.kind == Output::Kind::window ? Format::window : format_of(output.file);
}

/// A PDF holds the time of its making; blanks in its place keep the same figure the same bytes.
void remove_time(std::string& pdf) {
  const std::size_t start = pdf.rfind("/CreationDate (");
  const std::size_t end = start == std::string::npos ? start : pdf.find(')', start);
  if (end != std::string::npos) std::fill(pdf.begin() + start, pdf.begin() + end + 1, ' ');
}

/// XML forbids "]]>" in text, which gnuplot writes as it stands.
void escape_section_end(std::string& svg) {
  constexpr std::string_view forbidden = "]]>", escaped = "]]&gt;";
  for (auto at = svg.find(forbidden); at != std::string::npos; at = svg.find(forbidden, at))
    svg.replace(at, forbidden.size(), escaped);
}

/// What ends a file of that format, whatever was drawn; a text or a window has no such end.
std::string_view end_of(Format format) {
  constexpr std::string_view end_chunk = "IEND\xae\x42\x60\x82";
  switch (format) {
    case Format::svg:
      return "</svg>";
    case Format::png:
      return end_chunk;
    case Format::pdf:
      return "%%EOF";
    default:
      return "";
  }
}

bool is_complete(std::string_view bytes, Format format) {
  if (format != Format::png) bytes = trimmed(bytes);
  return bytes.ends_with(end_of(format));
}

std::string drawn(const std::string& commands, Format format) {
  std::string bytes = Session(commands).finish();
  if (bytes.empty() && format != Format::window)
    throw OutputError(
        "gnuplot failed: it drew nothing; another ending (.svg, .png, .pdf) may work");
  if (!is_complete(bytes, format))
    throw OutputError(
        "gnuplot failed: the end of the figure is missing; draw again, or draw nothing: the "
        "numbers "
        "need no gnuplot");
  if (format == Format::pdf) remove_time(bytes);
  if (format == Format::svg) escape_section_end(bytes);
  return bytes;
}

void check_display() {
  if (std::getenv("DISPLAY") == nullptr && std::getenv("WAYLAND_DISPLAY") == nullptr)
    throw OutputError(
        "no window can be opened here, there is no display; write the figure to a file");
}

/// A terminal figure without page feeds, blanks at line ends and empty lines around it.
std::string tidied(std::string text) {
  std::erase(text, '\f');
  std::string result, empty_lines;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) {
    line.erase(line.find_last_not_of(' ') + 1);
    if (line.empty()) {
      empty_lines += result.empty() ? "" : "\n";
      continue;
    }
    result += empty_lines + line + "\n";
    empty_lines.clear();
  }
  return result;
}

}  // namespace

void check(const Output& output) {
  format_of(output);
  drawing_time();
}

namespace {

/// A script for PNG, PDF and window in which every character has a font.
std::string with_fonts(const std::string& script, const Output& output) {
  const auto is_ascii = [](char c) { return static_cast<unsigned char>(c) < 0x80; };
  if (std::all_of(script.begin(), script.end(), is_ascii)) return script;
  const auto fonts = installed_fonts();
  const LegibleText found = legible(script, fonts.value_or(FontCoverage("")));
  if (!found.missing.empty() && output.note)
    output.note(fonts ? "no font here has " + found.missing +
                            ", which the figure shows as a mark; install a font that does, or draw "
                            "it as .svg"
                      : "fc-list does not tell which fonts are here, so " + found.missing +
                            " show as marks; install the package fontconfig, or draw it as .svg");
  return found.text;
}

/// Draws what script_for(format) says.
template <class ScriptFor>
void draw_script(const ScriptFor& script_for, const Output& output) {
  const Format format = format_of(output);
  if (output.kind == Output::Kind::window) check_display();
  std::optional<OutputFile> file;
  if (output.kind == Output::Kind::file) file.emplace(output.file, output.replace);
  const bool needs_fonts = format != Format::svg && format != Format::terminal;
  const std::string script = script_for(format);
  const std::string bytes = drawn(needs_fonts ? with_fonts(script, output) : script, format);
  if (output.kind == Output::Kind::text && output.text) output.text(tidied(bytes));
  if (!file) return;
  file->write(bytes);
  file->commit();
}

}  // namespace

void draw(const Sheet& sheet, const Output& output) {
  draw_script([&](Format format) { return script(sheet, format); }, output);
}

void draw(const Schematic& schematic, const Output& output) {
  if (output.kind == Output::Kind::text)
    throw OutputError("a schematic is not drawn in the terminal; name a file");
  const Drawing strokes = drawing(schematic, page());
  draw_script([&](Format format) { return script(strokes, format); }, output);
}

}  // namespace ohmtilt::plots
