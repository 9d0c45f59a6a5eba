#pragma once
#include <filesystem>
#include <functional>
#include <iosfwd>
#include <memory>
#include <string>

namespace ohmtilt::plots {

class Session;
struct Sheet;

/// Where a figure goes. Throws OutputError (exit 3) when gnuplot is missing or fails, or the file
/// cannot be written; the numbers of a command are printed before it draws.
struct Output {
  enum class Kind { file, text, window } kind = Kind::file;
  std::filesystem::path file;    ///< .svg, .png or .pdf, by its ending
  bool replace = false;          ///< an existing file is replaced only then
  std::ostream* text = nullptr;  ///< where Kind::text goes
  std::shared_ptr<Session> session =
      nullptr;  ///< from start_ahead(); empty: started when the figure is drawn
  /// Told of what could not be drawn as it stands; empty: nobody.
  std::function<void(const std::string&)> note = nullptr;
};

/// Throws InputError if output.file ends in none of .svg, .png, .pdf: bad usage, to be told before
/// any work.
void check(const Output& output);

/// Starts gnuplot for this output, to be ready when the figure is: its start takes longer than most
/// computations. Never throws for want of gnuplot; draw() does.
void start_ahead(Output& output);

/// Draws sheet. Throws OutputError; then no file is left or changed.
void draw(const Sheet& sheet, const Output& output);

}  // namespace ohmtilt::plots
