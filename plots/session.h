#pragma once
#include <memory>
#include <string>
#include <string_view>

namespace ohmtilt::plots {

/// One gnuplot process. What it draws on its standard output is kept in memory; no path and no
/// shell is involved, its start-up files are not read, its locale is fixed, and its death never
/// kills this process.
class Session {
 public:
  /// Starts gnuplot and returns at once. A failure is kept and thrown by finish(), so that a
  /// session may be started before it is known whether anything else goes wrong.
  Session();
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;

  /// Hands over commands. Text in them must have gone through gnuplot_literal().
  void send(std::string_view commands);
  /// Ends the script and returns what gnuplot drew. Throws OutputError when gnuplot is missing,
  /// reported an error, was stopped, or did not reach the end of the script.
  std::string finish();

 private:
  struct Process;
  std::unique_ptr<Process> process_;
};

}  // namespace ohmtilt::plots
