#pragma once
#include <chrono>
#include <memory>
#include <string>
#include <string_view>

#include <plots/child_process.h>

namespace ohmtilt::plots {

/// How long gnuplot may take for a figure, and a program for its answer: OHMTILT_GNUPLOT_SECONDS,
/// or 60 s. Throws InputError if the variable holds no number from 0.1 to 86400.
std::chrono::duration<double> drawing_time();

/// One gnuplot process at work on a script. What it draws on its standard output is kept in memory;
/// no path and no shell is involved, its start-up files are not read, its environment is ours, it
/// ends in time, and its death never kills this process.
class Session {
 public:
  /// Starts gnuplot on these commands and returns at once; texts in them must have gone through
  /// gnuplot_literal(). A failure is kept and thrown by finish().
  explicit Session(std::string_view commands);
  /// Waits for gnuplot and returns what it drew. Throws OutputError when gnuplot is missing,
  /// reported an error, was stopped, takes longer than drawing_time(), or did not reach the end of
  /// the script.
  std::string finish();

 private:
  std::unique_ptr<ChildProcess> gnuplot_;  ///< none when the script could not be handed over
};

}  // namespace ohmtilt::plots
