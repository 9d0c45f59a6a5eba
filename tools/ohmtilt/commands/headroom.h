#pragma once
// What `headroom` and `report` say alike.
#include <ohmtilt/analysis/level/headroom.h>
#include <plots/figures/headroom_figure.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

using HeadroomFound = Asked<Headroom, HeadroomOptions>;

std::string conclusion(const TargetNeeds& target);  ///< without a full stop
Rows target_rows(const HeadroomFound& found);       ///< name and text
/// The first row has the headings. Where the law has no travel, a dash stands for it.
Rows gain_rows(const VolumeLaw& law, const std::vector<GainPosition>& positions);
std::vector<std::string> gain_notes(const Headroom& headroom);
/// How much a difference between the channels matters, by steps of common practice without a
/// source: 1 and 2 dB.
const char* imbalance_weight(double imbalance_db);
std::string power_conclusion(const PowerClaims& power);
/// The first row has the headings.
Rows power_rows(const PowerClaims& power);
/// Bursts against the continuous figure, and what the figures are good for; sentences.
std::vector<std::string> power_notes(const PowerClaims& power);
std::string headroom_text(double headroom_db);  ///< "12 dB", "3.1 dB short"; toward the safe side
/// The listening time at the target's level; two sentences.
std::string hearing_text(const Headroom& headroom);
/// What EN 50332-2 says of players, with this source.
std::string player_text(const Headroom& headroom);
/// What it asks of an earphone, with this one.
std::string needed_volt_text(const Headroom& headroom);
plots::HeadroomFigure figure_of(const HeadroomFound& found);
/// --target, --crest.
void add_programme_options(Command& command, HeadroomOptions& how);

}  // namespace ohmtilt::cli
