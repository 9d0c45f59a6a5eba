#include <plots/session.h>

#include <fmt/format.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <sstream>

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wall"
#pragma GCC diagnostic ignored "-Wextra"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wconversion"
#include <gnuplot-iostream.h>
#pragma GCC diagnostic pop

namespace ohmtilt::plots {
namespace {

/// Printed by gnuplot on its standard error as the script's last act.
constexpr std::string_view last_words = "ohmtilt: the figure is complete";

OutputError cannot_start(int why_not) {
  if (why_not == ENOENT)
    return OutputError(
        "gnuplot is not installed; install the package gnuplot-nox, or draw nothing");
  return OutputError(std::string("gnuplot cannot be started: ") + std::strerror(why_not) +
                     "; see whether `gnuplot --version` answers, or draw nothing");
}

OutputError failed(const std::string& how) {
  return OutputError("gnuplot failed: " + how +
                     "; draw again, and if it stays so, draw nothing: the numbers need no gnuplot");
}

OutputError too_large(const char* what) {
  return OutputError(std::string("gnuplot failed: ") + what +
                     " is larger than a file may be here (ulimit -f); allow more, or draw nothing: "
                     "the numbers need no gnuplot");
}

OutputError too_late() {
  return OutputError(
      fmt::format("gnuplot failed: it did not end within {:g} s; set OHMTILT_GNUPLOT_SECONDS "
                  "higher if it needs "
                  "longer, or draw nothing: the numbers need no gnuplot",
                  drawing_time().count()));
}

/// What gnuplot says of an error stands in the last line it wrote.
std::string last_line(const std::string& text) {
  std::istringstream lines(text);
  std::string last;
  for (std::string line; std::getline(lines, line);)
    if (!trimmed(line).empty() && line.find(last_words) == std::string::npos) last = trimmed(line);
  return printable(last);
}

/// Throws what went wrong, if anything did.
void check(const Ended& gnuplot) {
  if (gnuplot.why_not_started != 0) throw cannot_start(gnuplot.why_not_started);
  if (gnuplot.late) throw too_late();
  if (gnuplot.over_file_size) throw too_large("the figure");
  if (gnuplot.signal != 0)
    throw failed("it was stopped by signal " + std::to_string(gnuplot.signal));
  const bool complete = gnuplot.errors.find(last_words) != std::string::npos;
  if (gnuplot.status == 0 && complete) return;
  const std::string said = last_line(gnuplot.errors);
  if (!said.empty()) throw failed(said);
  if (gnuplot.status != 0) throw failed("it ended with status " + std::to_string(gnuplot.status));
  throw failed("it ended before the figure was complete");
}

/// Writes commands and the last words to script; false when they do not fit there.
bool write_script(const Descriptor& script, std::string_view commands) {
  std::FILE* const file = stream_to(script);
  if (file == nullptr) return false;
  gnuplotio::Gnuplot stream(file);
  stream << commands << "\nset output\nprint '" << last_words << "'\n" << std::flush;
  return stream.good();
}

}  // namespace

std::chrono::duration<double> drawing_time() {
  const char* const given = std::getenv("OHMTILT_GNUPLOT_SECONDS");
  if (given == nullptr) return std::chrono::seconds(60);
  const auto seconds = parse_number(given);
  if (!seconds || !(*seconds >= 0.1) || !(*seconds <= 86400))
    throw InputError("OHMTILT_GNUPLOT_SECONDS is \"" + printable(given) + "\"",
                     "set it to a number of seconds from 0.1 to 86400");
  return std::chrono::duration<double>(*seconds);
}

Session::Session(std::string_view commands) {
  const Descriptor script = memory_file("script");
  if (script.number() >= 0 && !write_script(script, commands)) return;
  gnuplot_ = std::make_unique<ChildProcess>(
      std::vector<std::string>{"gnuplot", "--default-settings", "/dev/stdin"}, script);
}

std::string Session::finish() {
  if (!gnuplot_) throw too_large("its script");
  Ended ended = gnuplot_->wait(drawing_time());
  check(ended);
  return std::move(ended.said);
}

}  // namespace ohmtilt::plots
