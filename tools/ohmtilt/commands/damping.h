#pragma once
// What `damping` and `report` say alike.
#include <ohmtilt/analysis/damping/damping.h>
#include <plots/figures/damping_figure.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

/// All that an answer is made of.
struct DampingFound {
  DampingEarphone earphone;
  std::vector<DampingSource> sources;  ///< the first one is compared with
  Damping damping;
};

std::string conclusion(const DampingFound& found);  ///< a line; nothing where no Q is known twice
/// Q and decays of the resonances at each source, a table each, the first row with the headings.
std::vector<Rows> mode_tables(const Damping& damping);
Rows factor_rows(const DampingFound& found);  ///< the damping factors; first row: headings
std::string factor_notes(const DampingFound& found);
std::string model_text(const DampingEarphone& earphone);  ///< what it was worked out from
/// Of a damping with its locus.
plots::DampingFigure figure_of(const DampingFound& found);

}  // namespace ohmtilt::cli
