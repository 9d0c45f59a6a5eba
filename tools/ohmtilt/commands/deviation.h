#pragma once
// What `deviation` and `report` say alike.
#include <ohmtilt/analysis/deviation/comparison.h>
#include <plots/figures/deviation_figure.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {

/// The figures of one source: name, value and, where there is one, its frequency.
Rows case_rows(const Comparison& comparison, const ComparedSource& compared);
/// What a curve with points far apart cannot show, as a line; empty for none.
std::string hidden_text(const std::optional<double>& hidden_q);
/// The 95 % interval's half width and its largest parts; nothing where the earphone is a circuit.
std::string uncertainty_text(const ComparedSource& compared);
/// Mean deviation over each octave or third-octave that the grid reaches: a row of bands, then a
/// row a source.
Rows band_rows(const Comparison& comparison, bool third_octaves);
/// Which resistive sources keep the span within the limit; a sentence. Of a comparison that sought
/// it.
std::string largest_source_text(const Comparison& comparison);
plots::DeviationFigure figure_of(const Earphone& earphone, const Comparison& comparison);

}  // namespace ohmtilt::cli
