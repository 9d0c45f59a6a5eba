#include <gtest/gtest.h>

#include <ohmtilt/text/error.h>
#include <plots/drawing.h>
#include <plots/figures/schematic.h>
#include <plots/figures/wiring_figure.h>
#include <plots/theme.h>

#include <algorithm>
#include <sstream>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

Chain long_chain(std::size_t pads, const std::string& title = "A chain") {
  Source source;
  source.output_ohm = 0.3;
  source.output_farad = 220e-6;
  return Chain(title, source, std::vector<Stage>(pads, Pad{PadTopology::T, {18, 9.1, 4.7}, 1}));
}

std::size_t times(const Drawing& drawing, const std::string& text) {
  return static_cast<std::size_t>(
      std::count_if(drawing.texts.begin(), drawing.texts.end(),
                    [&](const PlacedText& one) { return one.text == text; }));
}

void expect_inside(const Drawing& drawing) {
  const auto inside = [&](double x, double y) {
    EXPECT_GE(x, 0);
    EXPECT_LE(x, drawing.width);
    EXPECT_GE(y, 0);
    EXPECT_LE(y, drawing.height);
  };
  for (const auto& stroke : drawing.strokes)
    for (const auto& spot : stroke.points) inside(spot.x, spot.y);
  for (const auto& text : drawing.texts) inside(text.x, text.y);
}

TEST(Schematic, ShowsEveryValue) {
  const Drawing found = drawing(schematic(long_chain(1)), page());
  for (const char* value : {"0.3 ohm", "220 µF", "18 ohm", "9.1 ohm", "4.7 ohm", "amplifier",
                            "1: T pad, 1 %", "earphone"})
    EXPECT_EQ(times(found, value), 1u) << value;
  EXPECT_EQ(found.junctions.size(), 2u);  // the shunt's ends
  EXPECT_EQ(found.terminals.size(), 2u);
  expect_inside(found);
}

/// Where the only text of this wording stands.
Spot place_of(const Drawing& drawing, const std::string& text) {
  EXPECT_EQ(times(drawing, text), 1u) << text;
  for (const auto& one : drawing.texts)
    if (one.text == text) return {one.x, one.y};
  return {};
}

// Input 1 sees both parts, input 2 the one that stands between it and ground.
TEST(Schematic, ShowsWhereTheInputsGo) {
  for (const auto& [wiring, upper, lower] :
       {std::tuple{Wiring::load, "reference", "earphone"},
        std::tuple{Wiring::reference, "earphone", "reference"}}) {
    const Drawing found = drawing(wiring_schematic(wiring), page());
    expect_inside(found);
    const double first = place_of(found, "input 1").x, second = place_of(found, "input 2").x;
    EXPECT_LT(first, place_of(found, upper).x);
    EXPECT_LT(place_of(found, upper).x, second);
    EXPECT_LT(second, place_of(found, lower).x);
    EXPECT_LT(place_of(found, "input ground").y, place_of(found, lower).y);
    EXPECT_EQ(found.terminals.size(), 3u);
    EXPECT_EQ(found.junctions.size(), 3u);
  }
}

// Each calibration as it is wired: what stands in the earphone's place, and where the inputs go.
TEST(Schematic, ShowsEachCalibration) {
  for (const Wiring wiring : {Wiring::load, Wiring::reference})
    for (const auto& [part, word] :
         {std::pair{WiredPart::open, "nothing"}, std::pair{WiredPart::shorted, "short"},
          std::pair{WiredPart::known, "known"}, std::pair{WiredPart::same, "nothing"}}) {
      const Drawing found = drawing(wiring_schematic(wiring, part, 22), page());
      expect_inside(found);
      EXPECT_EQ(times(found, word), 1u) << word;
      EXPECT_EQ(times(found, "22 ohm"), 1u) << word;
      if (part != WiredPart::same) {
        EXPECT_LT(place_of(found, "input 1").x, place_of(found, "input 2").x);
      } else if (wiring == Wiring::load) {
        EXPECT_LT(place_of(found, "inputs 1 and 2").x, place_of(found, "22 ohm").x);
      }
    }
}

// 2 V across 22 ohm are 0.18 W, across 4.7 ohm 0.85 W.
TEST(Schematic, RatesTheReference) {
  EXPECT_EQ(reference_watt(22), 0.25);
  EXPECT_EQ(reference_watt(10), 0.5);
  EXPECT_EQ(reference_watt(4.7), 1);
}

TEST(Schematic, GoesOnInTheNextRow) {
  const Drawing found = drawing(schematic(long_chain(40)), page());
  EXPECT_EQ(times(found, "9.1 ohm"), 40u);
  EXPECT_EQ(times(found, "a"), 2u);  // one end, one beginning
  EXPECT_GT(found.height, drawing(schematic(long_chain(1)), page()).height);
  expect_inside(found);
}

TEST(Schematic, DrawsEveryTopology) {
  for (const auto& name : topology_names()) {
    SCOPED_TRACE(name);
    Pad pad;
    pad.topology = *topology_of_name(name);
    for (std::size_t i = 0; i < pad_keys(pad.topology).size(); ++i)
      pad.ohm.push_back(11 + static_cast<double>(i));
    const Drawing found = drawing(schematic(pad, "Pad"), page());
    const bool both_legs = pad.topology == PadTopology::H || pad.topology == PadTopology::O ||
                           pad.topology == PadTopology::U;
    const std::size_t legs = both_legs ? 2 : 1;
    for (std::size_t i = 0; i < pad.ohm.size(); ++i) {
      const bool shunt = pad_keys(pad.topology)[i].find("shunt") != std::string::npos;
      EXPECT_EQ(times(found, std::to_string(11 + i) + " ohm"), shunt ? 1 : legs);
    }
    EXPECT_EQ(found.terminals.size(), 4u);
    expect_inside(found);
  }
}

// The bridged T: series, shunt, series from left to right, and the bridge above them.
TEST(Schematic, PutsTheShuntOfABridgedTInTheMiddle) {
  const Schematic found = schematic(Pad{PadTopology::bridged_T, {1, 2, 3, 4}, 0}, "Pad");
  const auto& cells = found.groups[1].cells;
  EXPECT_EQ(cells[0].live->value, "1 ohm");
  EXPECT_EQ(cells[1].across->value, "3 ohm");
  EXPECT_EQ(cells[2].live->value, "2 ohm");
  EXPECT_EQ(found.groups[1].bridge->value, "4 ohm");
}

TEST(Schematic, WritesValuesAsEngineersDo) {
  EXPECT_EQ(engineering(4700, "ohm"), "4.7 kohm");
  EXPECT_EQ(engineering(18, "ohm"), "18 ohm");
  EXPECT_EQ(engineering(0, "ohm"), "0 ohm");
  EXPECT_EQ(engineering(220e-6, "F"), "220 µF");
  EXPECT_EQ(engineering(999.99, "ohm"), "1 kohm");
  EXPECT_EQ(engineering(1e-10, "F"), "100 pF");
}

// Text from files reaches gnuplot as text only: nothing in it is carried out.
TEST(Schematic, TakesHostileTitles) {
  const test::Scratch scratch;
  const auto never = scratch / "never", file = scratch / "a.svg";
  const std::string hostile = "<b>'; system 'touch " + never.string() + "'; #\n`touch " +
                              never.string() + "` {/Bold %d @\\";
  draw(schematic(long_chain(2, hostile)), test::to_file(file));
  EXPECT_FALSE(std::filesystem::exists(never));
  const std::string svg = test::contents(file);
  EXPECT_NE(svg.find("18 ohm"), std::string::npos);
  EXPECT_EQ(svg.find("<b>"), std::string::npos);
  EXPECT_NE(svg.find("&lt;b"), std::string::npos);
  std::ostringstream text;
  EXPECT_THROW(draw(schematic(long_chain(1)),
                    {Output::Kind::text, {}, false, [&](const auto& figure) { text << figure; }}),
               OutputError);
}

}  // namespace
}  // namespace ohmtilt::plots
