#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/design/insertion/insertion_point.h>
#include <ohmtilt/design/insertion/lowest_ratio.h>
#include <ohmtilt/hearing/weighting.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr Eigen::Index noise_points = 481;
constexpr Eigen::Index coarse_points = 31;

void check(const PadSiteOptions& options) {
  const auto positive = [](double value) { return value > 0 && std::isfinite(value); };
  if (options.rated_ohm && !positive(*options.rated_ohm))
    throw InputError(
        "a rated resistance of " + number_text(*options.rated_ohm) + " ohm is not allowed",
        "give a positive number of ohms");
  if (!positive(options.open_volt))
    throw InputError("a level of " + number_text(options.open_volt) + " V is not allowed",
                     "give the open-circuit rms voltage of the amplifier");
}

/// The resistance that an impedance is at every frequency, or nothing.
std::optional<double> one_resistance(const ComplexArray& ohm) {
  const bool same = (ohm.imag() == 0).all() && (ohm.real() == ohm[0].real()).all();
  return same ? std::optional(ohm[0].real()) : std::nullopt;
}

}  // namespace

PadSite::PadSite(const Earphone& earphone, const TheveninSource& source,
                 const PadSiteOptions& options)
    : options_(options) {
  check(options);
  Band known = overlap(earphone.impedance.range(), source.output.range());
  if (options.from) known = overlap(known, options.from->output.range());
  const DeviationGrid grid = deviation_grid(options.band, options.points, options.anchor, known);
  reference_hz_ = ohmtilt::reference_hz(grid);
  grid_hz_ = grid.grid_hz;
  load_ohm_ = earphone.impedance.at(grid_hz_);
  warnings_ = earphone.warnings;
  warnings_.insert(warnings_.end(), source.warnings.begin(), source.warnings.end());
  if (grid_hz_[0] > options.band.low_hz || grid_hz_[grid_hz_.size() - 1] < options.band.high_hz)
    warnings_.push_back("the data reach from " + hz_text(grid_hz_[0]) + " to " +
                        hz_text(grid_hz_[grid_hz_.size() - 1]) + "; nothing is said outside");
  sample_source(source);
  if (options.from) sample_from(*options.from);
  sample_anchor(earphone, source,
                grid.anchor_hz.size() > 0 ? grid.anchor_hz : Array::Constant(1, reference_hz_));
  sample_noise(source, source.output.range());
  insertion_ = InsertionTerms(source_ohm_, load_ohm_);
  bare_ampere_square_ = (load_ohm_ + source_ohm_).abs2().inverse();
  load_square_ = padded_to_lanes(load_ohm_.abs2());
  load_twice_real_ = padded_to_lanes(2 * load_ohm_.real());
}

void PadSite::sample_source(const TheveninSource& source) {
  const TheveninSamples samples = source.at(grid_hz_);
  source_ohm_ = amplifier_ohm_ = samples.output_ohm;
  open_ratio_ = samples.open_ratio;
  reference_source_ohm_ = source.output.at(reference_hz_);
  source_resistance_ = one_resistance(source_ohm_);
  if (source_resistance_) span_.emplace(load_ohm_, TheveninSamples{source_ohm_, {}});
  if (!source.chain || source.chain->stages().empty()) return;
  amplifier_ohm_ = thevenin_source(source.chain->with_stages({})).output.at(grid_hz_);
  ChainCircuitOptions without_source;
  without_source.source = false;
  const auto stages = chain_parameters(Circuit(chain_circuit(*source.chain, without_source)),
                                       grid_hz_, "amplifier", "earphone");
  stages_ = StageTerms{stages.a, stages.b_ohm, stages.c_siemens, stages.d};
}

void PadSite::sample_from(const TheveninSource& source) {
  const TheveninSamples from = source.at(grid_hz_);
  const ComplexArray bare =
      open_ratio_.size() > 0 ? open_ratio_ : ComplexArray::Ones(grid_hz_.size()).eval();
  from_power_ = (bare / (load_ohm_ + source_ohm_)).abs2() * (load_ohm_ + from.output_ohm).abs2();
  if (from.open_ratio.size() > 0) from_power_ /= from.open_ratio.abs2();
  // A span over resistances alone has one open ratio for all frequencies.
  const bool one_ratio = (bare == bare[0]).all();
  span_.reset();
  if (source_resistance_ && one_ratio) span_.emplace(load_ohm_, from);
  append_new(warnings_, source.warnings);
}

void PadSite::sample_anchor(const Earphone& earphone, const TheveninSource& source,
                            const Array& anchor_hz) {
  const auto load_at = [&](const Array& hz) -> ComplexArray {
    if (options_.rated_ohm) return ComplexArray::Constant(hz.size(), *options_.rated_ohm);
    return earphone.impedance.at(hz);
  };
  const ComplexArray load = load_at(anchor_hz);
  anchor_ = coarse_anchor_ = InsertionTerms(source.output.at(anchor_hz), load);
  if (anchor_.size() == 1) return;
  anchor_resistance_ = one_resistance(source.output.at(anchor_hz));
  if (anchor_resistance_ && (load.real() >= 0).all())
    anchor_bounds_.emplace(anchor_, load, *anchor_resistance_);
  if (anchor_hz.size() <= coarse_points) return;
  const Array hz = log_grid({anchor_hz[0], anchor_hz[anchor_hz.size() - 1]}, coarse_points);
  coarse_anchor_ = InsertionTerms(source.output.at(hz), load_at(hz));
}

void PadSite::sample_noise(const TheveninSource& source, const Band& known) {
  const Array hz = log_grid(overlap({20, 20000}, known), noise_points);
  noise_source_ohm_ = source.output.at(hz);
  // The integral over frequency is one over ln f of f times the density, by trapezoids.
  const double step = std::log(hz[noise_points - 1] / hz[0]) / double(noise_points - 1);
  noise_weight_ = step * hz * power_from_db(a_weighting_db(hz));
  noise_weight_[0] /= 2;
  noise_weight_[noise_points - 1] /= 2;
  if (!one_resistance(noise_source_ohm_)) return;
  noise_source_ohm_ = noise_source_ohm_.head(1).eval();
  noise_weight_ = Array::Constant(1, noise_weight_.sum());
}

double PadSite::attenuation_power(const ResistiveTwoPort& pad) const {
  return anchor_.mean_power(pad);
}

VariedAttenuation PadSite::varied_attenuation(const Pad& pad) const {
  if (!anchor_resistance_ || anchor_.size() == 1) return VariedAttenuation(coarse_anchor_);
  // The output resistance rises with each resistor (Rayleigh's monotonicity law), so the ends of
  // the tolerance are its ends.
  const auto output_ohm_at = [&](double factor) {
    std::vector<double> ohm = pad.ohm;
    for (double& one : ohm) one *= factor;
    return ohmtilt::output_ohm(two_port(pad.topology, ohm), *anchor_resistance_);
  };
  const double part = pad.tolerance_percent / 100;
  const double low = output_ohm_at(1 - part);
  const double high = output_ohm_at(1 + part);
  if (!(low > 0 && high > low && high <= low * OutputMeanSeries::widest))
    return VariedAttenuation(coarse_anchor_);
  return VariedAttenuation(OutputMeanSeries(anchor_, *anchor_resistance_, low, high));
}

double PadSite::attenuation_db(const ResistiveTwoPort& pad) const {
  return db_from_power(attenuation_power(pad));
}

double PadSite::output_ohm(const ResistiveTwoPort& pad) const {
  return std::abs(ohmtilt::output_ohm<Complex>(pad, reference_source_ohm_));
}

double PadSite::span_db(const ResistiveTwoPort& pad) const {
  if (span_) return span_->span_db(ohmtilt::output_ohm(pad, *source_resistance_));
  Array power = insertion_.powers(pad);
  if (from_power_.size() > 0) power /= from_power_;
  return db_from_power(power.maxCoeff() / power.minCoeff());
}

ComplexArray PadSite::amplifier_load_ohm(const ResistiveTwoPort& pad) const {
  ComplexArray input = (pad.a * load_ohm_ + pad.b_ohm) / (pad.c_siemens * load_ohm_ + pad.d);
  if (!stages_) return input;
  return (stages_->a * input + stages_->b_ohm) / (stages_->c_siemens * input + stages_->d);
}

double PadSite::input_min_ohm(const ResistiveTwoPort& pad) const {
  if (stages_) return amplifier_load_ohm(pad).abs().minCoeff();
  return std::sqrt(
      lowest_ratio(load_square_, load_twice_real_, {pad.a, pad.b_ohm}, {pad.c_siemens, pad.d}));
}

double PadSite::largest_ampere(const ResistiveTwoPort& pad) const {
  if (!stages_) {
    const Array far_square = bare_ampere_square_ / insertion_.powers(pad);
    const Array near_square = far_square * load_affine_square({pad.c_siemens, pad.d});
    return options_.open_volt * std::sqrt(near_square.maxCoeff());
  }
  return options_.open_volt / (amplifier_ohm_ + amplifier_load_ohm(pad)).abs().minCoeff();
}

double PadSite::noise_volt_a_weighted(const ResistiveTwoPort& pad) const {
  // What a passive network at one temperature has in all is 4 k T Re Z [Nyquist1928]; the source's
  // own share is carried to the terminals by its open ratio.
  const ComplexArray divided = pad.a + pad.c_siemens * noise_source_ohm_;
  const Array all = ((pad.b_ohm + pad.d * noise_source_ohm_) / divided).real();
  const Array own = all - noise_source_ohm_.real() / divided.abs2();
  const double ohm_hertz = std::max(0.0, (own * noise_weight_).sum());
  return std::sqrt(4 * boltzmann_joule_per_kelvin * options_.kelvin * ohm_hertz);
}

}  // namespace ohmtilt
