#pragma once
// A made-up figure, and an environment in which a test decides which gnuplot is found.
#include <ohmtilt/base/frequency_grid.h>
#include <plots/figures/deviation_figure.h>
#include <plots/layout.h>

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

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

/// Whatever the curves: labels apart from one another, everything on the canvas.
inline void expect_laid_out(const plots::Sheet& sheet) {
  using namespace plots;
  const Canvas canvas = page();
  const Layout layout = lay_out(sheet, canvas);
  for (const PlacedPanel& panel : layout.panels) {
    EXPECT_LT(panel.plot.left, panel.plot.right);
    EXPECT_LT(panel.plot.bottom, panel.plot.top);
    std::vector<double> heights;
    for (const PlacedLabel& label : panel.labels) heights.push_back(label.y);
    std::sort(heights.begin(), heights.end());
    for (std::size_t i = 1; i < heights.size(); ++i)
      EXPECT_GE(heights[i] - heights[i - 1], canvas.label.line - 1e-9);
  }
  for (const PlacedText& text : layout.texts) {
    EXPECT_GE(text.y, 0);
    EXPECT_LE(text.y, layout.height);
    const double width = canvas.text_width(text.text, text.face);
    const double left = text.side == Note::Side::left    ? text.x
                        : text.side == Note::Side::right ? text.x - width
                                                         : text.x - width / 2;
    EXPECT_GE(left, 0) << text.text;
    EXPECT_LE(left + width, canvas.width) << text.text;
  }
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
