#pragma once
// A made-up figure, and an environment in which a test decides which gnuplot is found.
#include <ohmtilt/base/frequency_grid.h>
#include <plots/deviation_figure.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <string>

#include "tests/support.h"

namespace ohmtilt::test {

/// An invented figure of one resonance; curves scale with peak_db.
inline plots::DeviationFigure invented_figure(int curves = 1, double peak_db = 2) {
  plots::DeviationFigure figure;
  figure.earphone_title = "Invented earphone";
  figure.conclusion = "6 ohm instead of 0.3 ohm";
  figure.caption = "Invented data.";
  figure.frequency_hz = log_grid({20, 20000}, 240);
  figure.anchor_low_hz = figure.anchor_high_hz = 1000;
  const Array octaves = (figure.frequency_hz / 3000).log() / std::log(2.0);
  const Array bump = (-octaves.square()).exp();
  for (int i = 0; i < curves; ++i)
    figure.curves.push_back({std::to_string(i + 1) + " ohm", (i + 1) * peak_db * bump, {}, {}});
  figure.magnitude_ohm = 10 + 20 * bump;
  figure.phase_deg = -40 * octaves * bump;
  return figure;
}

inline plots::Output to_file(const std::filesystem::path& file, bool replace = false) {
  plots::Output output;
  output.file = file;
  output.replace = replace;
  return output;
}

/// PATH is this folder alone while it lives.
class OnlyPath {
 public:
  explicit OnlyPath(const std::filesystem::path& folder) : before_(std::getenv("PATH")) {
    ::setenv("PATH", folder.c_str(), 1);
  }
  ~OnlyPath() { ::setenv("PATH", before_.c_str(), 1); }
  OnlyPath(const OnlyPath&) = delete;
  OnlyPath& operator=(const OnlyPath&) = delete;

 private:
  std::string before_;
};

/// A shell script by the name of gnuplot in folder.
inline void write_gnuplot(const Scratch& folder, const std::string& body) {
  const auto file = folder.write("gnuplot", "#!/bin/sh\n" + body);
  std::filesystem::permissions(file, std::filesystem::perms::owner_all);
}

/// The message of the Error that act throws.
template <class Error, class Act>
std::string message_of(Act act) {
  try {
    act();
  } catch (const Error& error) {
    return error.what();
  }
  return "nothing was thrown";
}

}  // namespace ohmtilt::test
