#pragma once
// What `ohmtilt pad` says: JSON, text, table and figure of a search for pads.
#include <optional>

#include <ohmtilt/design/pad/nearest_pad.h>
#include <ohmtilt/design/pad/pad_parts.h>
#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/design/pad/switched_attenuator.h>
#include <plots/figures/pad_figure.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/parts_list.h>

namespace ohmtilt::cli {

/// One search with what it was about.
struct PadReport {
  std::string earphone_title, source_label;
  Anchor anchor;
  std::optional<double> attenuation_db;   ///< nothing for given values without one
  double within_db = 0.5;                 ///< of it
  std::optional<std::string> from_label;  ///< of what the span is the deviation from
  std::optional<double> rated_ohm;
  std::optional<double> max_ampere;  ///< of the amplifier
  PadSearch search;
  std::optional<SwitchedAttenuator> ladder;
  std::vector<std::string> exceeded;  ///< limits, by the recommended pad or the switch, in words
  std::optional<NearestPad> nearest;  ///< where there is no pad
  double tolerance_percent = 1;
  double ambient_celsius = 25;
  std::optional<int> after = std::nullopt;  ///< stages before the pad, where others follow it
};

/// The resistors of the recommended pad, and of a switch's row.
std::vector<ListedPart> listed_pad_parts(const PadReport& report);
std::vector<ListedPart> listed_ladder_parts(const SwitchedAttenuator& ladder,
                                            double tolerance_percent, double celsius);

Json pad_json(const PadReport& report, const PadSite& site);
std::string pad_text(const PadReport& report, const PadSite& site);
CsvTable pad_csv(const PadReport& report);
plots::PadFigure pad_figure(const PadReport& report, const PadSite& site);

/// "into the earphone at 1 kHz": where attenuation is taken.
std::string anchored_text(const PadReport& report, const PadSite& site);
/// The limits that are exceeded, in a sentence; empty where all are kept.
std::string exceeded_text(const PadReport& report);
/// "L 18 / 9.1 ohm".
std::string pad_name(const Pad& pad);

}  // namespace ohmtilt::cli
