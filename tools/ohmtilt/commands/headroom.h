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
std::string power_conclusion(const PowerClaims& power);
/// The first row has the headings.
Rows power_rows(const PowerClaims& power);
std::string safety_text(const Headroom& headroom);
plots::HeadroomFigure figure_of(const HeadroomFound& found);

}  // namespace ohmtilt::cli
