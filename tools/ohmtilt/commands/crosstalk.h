#pragma once
// What `crosstalk` and `report` say alike.
#include <ohmtilt/analysis/level/crosstalk.h>
#include <plots/figures/crosstalk_figure.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

using CrosstalkFound = Asked<Crosstalk, CrosstalkOptions>;

/// How far apart and whether it matters; without a full stop.
std::string conclusion(const Chain& chain, const Crosstalk& crosstalk);
/// "38": never more than it is; below 0 dB the idle channel is the louder one.
std::string separation_down(double db);
/// How much it matters, by steps of common practice without a source: 40, 25 and 15 dB.
const char* separation_weight(double separation_db);
std::string how_text(const CrosstalkOptions& how);  ///< "3 wires, idle channel driven to 0 V"
Rows separation_rows(const CrosstalkFound& found);  ///< name and text
plots::CrosstalkFigure figure_of(const CrosstalkFound& found);

}  // namespace ohmtilt::cli
