#pragma once
#include <filesystem>
#include <iosfwd>

namespace ohmtilt::plots {

/// Where a figure goes. Throws OutputError (exit 3) when gnuplot is missing or fails, or the file
/// cannot be written; the numbers of a command are printed before it draws.
struct Output {
  enum class Kind { file, text, window } kind = Kind::file;
  std::filesystem::path file;    ///< .svg, .png or .pdf, by its ending
  bool replace = false;          ///< an existing file is replaced only then
  std::ostream* text = nullptr;  ///< where Kind::text goes
};

}  // namespace ohmtilt::plots
