#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/analysis/deviation/deviation_uncertainty.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/warnings.h>
#include <algorithm>

namespace ohmtilt {
namespace {

/// The response that is shown, or nothing: the given one, or the earphone's own.
const ResponseCurve* shown_response(const Earphone& earphone,
                                    const std::optional<ResponseCurve>& given) {
  if (given) return &*given;
  return earphone.response ? &earphone.response->curve : nullptr;
}

/// Where everything that takes part is known.
Band known_range(const Earphone& earphone, const TheveninSource& from,
                 const std::vector<TheveninSource>& to, const ResponseCurve* response) {
  Band known = overlap(earphone.impedance.range(), from.output.range());
  for (const auto& source : to) known = overlap(known, source.output.range());
  return response ? overlap(known, response->range()) : known;
}

void warn_if_cut(const Band& asked, const Array& hz, std::vector<std::string>& warnings) {
  const Band got{hz[0], hz[hz.size() - 1]};
  if (got.low_hz > asked.low_hz || got.high_hz < asked.high_hz)
    warnings.push_back("the data reach from " + hz_text(got.low_hz) + " to " +
                       hz_text(got.high_hz) + "; nothing is said outside");
}

/// The response with the source from. Its own level is kept at the anchor.
Array response_before_db(const DeviationGrid& grid, const Earphone& earphone,
                         const ComplexArray& load_ohm, const TheveninSamples& from,
                         const std::optional<ResponseCurve>& given) {
  const ResponseCurve& shown = *shown_response(earphone, given);
  Array level_db = LogInterpolator(shown.frequency_hz(), shown.level_db()).at(grid.grid_hz);
  if (given) return level_db;
  const ComplexArray measured_ohm =
      ComplexArray::Constant(load_ohm.size(), earphone.response->source_ohm);
  return level_db + deviation(grid, load_ohm, {measured_ohm, {}}, from).deviation_db;
}

/// A source and the earphone at one frequency.
struct AtOne {
  TheveninSamples source;
  ComplexArray load_ohm;
};

/// At the reference, which is the last of all frequencies where it is the anchor; else it is asked.
AtOne at_reference(const Comparison& result, const TheveninSource& source,
                   const TheveninSamples& samples, const Earphone& earphone,
                   const ComplexArray& load_ohm) {
  if (result.grid.anchor_hz.size() == 1) {
    const bool through = samples.open_ratio.size() > 0;
    return {{samples.output_ohm.tail(1),
             through ? ComplexArray(samples.open_ratio.tail(1)) : ComplexArray()},
            load_ohm.tail(1)};
  }
  const Array hz = Array::Constant(1, result.reference_hz);
  return {source.at(hz), earphone.impedance.at(hz)};
}

ChainFigures chain_figures(const AtOne& reference, const std::optional<double>& rated_ohm,
                           const ComplexArray& output_ohm) {
  ChainFigures figures{terminal_gain_db(reference.source, reference.load_ohm)[0], std::nullopt,
                       output_ohm};
  if (rated_ohm)
    figures.rated_loss_db =
        terminal_gain_db(reference.source, ComplexArray::Constant(1, *rated_ohm))[0];
  return figures;
}

}  // namespace

std::optional<CurveErrors> errors_of(const Earphone& earphone) {
  if (!earphone.curve) return std::nullopt;
  return curve_errors(*earphone.curve, earphone.phase_spread);
}

Comparison compare_sources(const Earphone& earphone, const TheveninSource& from,
                           const std::vector<TheveninSource>& to, const ComparisonOptions& options,
                           const std::optional<ResponseCurve>& response) {
  const Band known = known_range(earphone, from, to, shown_response(earphone, response));
  Comparison result;
  result.grid = deviation_grid(options.band, options.points, options.anchor, known);
  result.reference_hz = reference_hz(result.grid);
  append_new(result.warnings, earphone.warnings);
  append_new(result.warnings, from.warnings);
  warn_if_cut(options.band, result.grid.grid_hz, result.warnings);

  const Array hz = result.grid.all_hz();
  const Eigen::Index points = result.grid.grid_hz.size();
  const ComplexArray load_ohm = earphone.impedance.at(hz);
  const TheveninSamples from_samples = from.at(hz);
  result.load_ohm = load_ohm.head(points);
  result.from_label = from.label;
  result.from_ohm =
      std::abs(at_reference(result, from, from_samples, earphone, load_ohm).source.output_ohm[0]);
  const bool has_response = shown_response(earphone, response) != nullptr;
  if (has_response)
    result.response_before_db =
        response_before_db(result.grid, earphone, load_ohm, from_samples, response);

  std::optional<CurveErrors> own;
  if (!options.errors && !to.empty()) own = errors_of(earphone);
  const CurveErrors* const errors = options.errors ? options.errors : own ? &*own : nullptr;
  const bool magnitude_only = earphone.phase == PhaseOrigin::minimum;
  for (const auto& source : to) {
    append_new(result.warnings, source.warnings);
    const TheveninSamples samples = source.at(hz);
    const AtOne reference = at_reference(result, source, samples, earphone, load_ohm);
    ComparedSource compared{source.label,
                            std::abs(reference.source.output_ohm[0]),
                            deviation(result.grid, load_ohm, from_samples, samples),
                            std::nullopt,
                            {},
                            std::nullopt};
    compared.short_label = source.short_name();
    const Array& deviation_db = compared.deviation.deviation_db;
    if (source.chain)
      compared.chain =
          chain_figures(reference, earphone.rated_ohm, samples.output_ohm.head(points));
    if (has_response) compared.response_db = result.response_before_db + deviation_db;
    if (errors)
      compared.interval = deviation_interval(*earphone.curve, *errors, result.grid, load_ohm,
                                             from_samples, samples);
    if (magnitude_only)
      compared.band = guaranteed_band(result.grid, load_ohm.abs(), from_samples, samples);
    result.cases.push_back(std::move(compared));
  }
  if (options.limit_db)
    result.largest_source =
        largest_source(SpanOverResistance(result.load_ohm, head(from_samples, points)),
                       result.from_ohm, *options.limit_db);
  if (result.largest_source && !result.largest_source->ohm)
    result.warnings.push_back(
        result.largest_source->start_exceeds
            ? "the first source itself is beyond the limit: no resistance keeps within it"
            : "no source resistance up to 1 Mohm reaches the limit");
  return result;
}

}  // namespace ohmtilt
