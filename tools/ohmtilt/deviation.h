#pragma once
// What `deviation` and `report` say alike.
#include <ohmtilt/analysis/comparison.h>
#include <plots/deviation_figure.h>
#include <tools/ohmtilt/wording.h>

namespace ohmtilt::cli {

/// The figures of one source: name, value and, where there is one, its frequency.
Rows case_rows(const Comparison& comparison, const ComparedSource& compared);
/// Mean deviation over each octave or third-octave that the grid reaches: a row of bands, then a
/// row a source.
Rows band_rows(const Comparison& comparison, bool third_octaves);
plots::DeviationFigure figure_of(const Earphone& earphone, const Comparison& comparison);

}  // namespace ohmtilt::cli
