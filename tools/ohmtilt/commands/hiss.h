#pragma once
// What `hiss` and `report` say alike.
#include <ohmtilt/analysis/level/hiss.h>
#include <plots/figures/hiss_figure.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

using HissFound = Asked<Hiss, HissOptions>;

std::string dba_text(double dba);          ///< "12.3 dB(A)", or "nothing"
std::string conclusion(const Hiss& hiss);  ///< without a full stop
/// "11 dB above" or "9 dB below" the threshold of hearing, rounded as conclusion() does.
std::string over_threshold_text(double over_db);
std::string bands_text(const Hiss& hiss);  ///< which third-octaves are heard; in mid-sentence
Rows parts_rows(const Hiss& hiss);         ///< name and level, all together last
std::string pad_text(const Hiss& hiss);    ///< a sentence, or nothing
std::string threshold_text(HearingThreshold threshold);
plots::HissFigure figure_of(const HissFound& found);

}  // namespace ohmtilt::cli
