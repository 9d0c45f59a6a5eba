#pragma once
#include <stdexcept>
#include <string>

namespace ohmtilt {

/// Where in a file something stands. line and column count from 1; 0 means the whole file or line.
struct Place {
  std::string file;
  long line = 0;
  long column = 0;
};

/// "curve.csv:17:5", "curve.csv:17" or "curve.csv"; control characters in the name are shown as
/// '?'.
std::string to_string(const Place& place);

/// Bad input or bad usage (exit status 2). The text is one sentence a person can act on:
/// "FILE:LINE:COLUMN: what is wrong; what would be right".
class InputError : public std::runtime_error {
 public:
  InputError(const std::string& wrong, const std::string& remedy);
  InputError(const Place& place, const std::string& wrong, const std::string& remedy);
  /// A known error with more said at its end, as where a command names the flag for the remedy.
  InputError(const InputError& known, const std::string& more);
};

/// An output that could not be written, or gnuplot missing or failing (exit status 3).
class OutputError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace ohmtilt
