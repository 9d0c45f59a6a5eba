#pragma once
#include <filesystem>
#include <functional>
#include <string>

#include <plots/panel.h>

namespace ohmtilt::plots {

/// Where a figure goes. Throws OutputError (exit 3) when gnuplot is missing or fails, or the file
/// cannot be written; the numbers of a command are printed before it draws.
struct Output {
  enum class Kind { file, text, window } kind = Kind::file;
  std::filesystem::path file;  ///< .svg, .png or .pdf, by its ending
  bool replace = false;        ///< an existing file is replaced only then
  std::function<void(const std::string&)> text = nullptr;  ///< takes what Kind::text draws
  /// Told of what could not be drawn as it stands; empty: nobody.
  std::function<void(const std::string&)> note = nullptr;
};

/// Throws InputError if output.file ends in none of .svg, .png, .pdf, or OHMTILT_GNUPLOT_SECONDS is
/// no time: bad usage, to be told before any work.
void check(const Output& output);

/// Draws sheet. Throws OutputError; then no file is left or changed.
void draw(const Sheet& sheet, const Output& output);

/// Draws what figures/ makes a sheet of.
template <class Figure>
void draw(const Figure& figure, const Output& output) {
  draw(sheet_of(figure), output);
}

}  // namespace ohmtilt::plots
