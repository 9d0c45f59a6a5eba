#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/span.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/design/insertion/insertion_terms.h>
#include <ohmtilt/design/insertion/lowest_ratio.h>
#include <ohmtilt/design/insertion/output_mean.h>

namespace ohmtilt {

struct PadSiteOptions {
  Band band;                  ///< hertz; cut to where all data reach
  Eigen::Index points = 480;  ///< 2 <= points
  Anchor anchor = AnchorFrequency{};
  std::optional<double> rated_ohm;  ///< > 0: attenuation into this resistance instead
  double open_volt = 1;             ///< rms of the amplifier without load, for power and current
  double kelvin = room_kelvin;
  /// What the span is the deviation from; nothing: the source without the pad.
  std::optional<TheveninSource> from = std::nullopt;
};

/// The insertion loss as a power ratio of blocks of pads that are much alike. Over an anchor band
/// it is that of a series, or of at most 31 frequencies. Refers to the site it comes from.
class VariedAttenuation {
 public:
  explicit VariedAttenuation(const InsertionTerms& terms) : terms_(&terms) {}
  explicit VariedAttenuation(const OutputMeanSeries& series) : series_(series) {}
  void powers(const TwoPortBlock& pads, double* powers) const {
    series_ ? series_->mean_powers(pads, powers) : terms_->mean_powers(pads, powers);
  }

 private:
  const InsertionTerms* terms_ = nullptr;
  std::optional<OutputMeanSeries> series_;
};

/// Where a pad goes: at the end of a source, before an earphone, on one frequency grid. Prepared
/// once, asked for many pads.
class PadSite {
 public:
  /// Throws InputError as deviation_grid does.
  PadSite(const Earphone& earphone, const TheveninSource& source, const PadSiteOptions& options);

  /// Insertion loss in dB against the same source without the pad, positive: at the anchor, its
  /// mean over ln f in an anchor band, or at reference_hz() without an anchor.
  double attenuation_db(const ResistiveTwoPort& pad) const;
  /// The same as a power ratio, which saves the logarithm where it is only compared.
  double attenuation_power(const ResistiveTwoPort& pad) const;
  /// False only when attenuation_power is outside, and less work.
  bool may_attenuate(const ResistiveTwoPort& pad, double lowest_power, double highest_power) const {
    if (!anchor_bounds_) return true;
    const auto bounds = anchor_bounds_->mean_power(pad);
    return bounds.high >= lowest_power && bounds.low <= highest_power;
  }
  /// attenuation_power of the pad with its values anywhere within their tolerances.
  VariedAttenuation varied_attenuation(const Pad& pad) const;
  /// |Z| in ohm at the earphone's terminals at reference_hz(), the source included.
  double output_ohm(const ResistiveTwoPort& pad) const;
  /// Span in dB of the deviation that the pad brings, from the source of the options.
  double span_db(const ResistiveTwoPort& pad) const;
  /// The lowest |Z| in ohm on the grid that the amplifier sees, behind its own output impedance.
  double input_min_ohm(const ResistiveTwoPort& pad) const;
  /// The largest rms current out of the amplifier over the grid, at open_volt.
  double largest_ampere(const ResistiveTwoPort& pad) const;
  /// The largest power over the grid in each resistor, at open_volt: one value a key; of H, O
  /// and U that in one resistor of the leg.
  std::vector<double> dissipation_watt(const Pad& pad) const;
  /// Thermal noise of the pad's resistors at the open terminals, A-weighted, 20 Hz to 20 kHz.
  double noise_volt_a_weighted(const ResistiveTwoPort& pad) const;

  double reference_hz() const { return reference_hz_; }
  const Array& grid_hz() const { return grid_hz_; }
  const ComplexArray& load_ohm() const { return load_ohm_; }
  /// Lowest |Z| of the earphone on the grid.
  double load_min_ohm() const { return load_ohm_.abs().minCoeff(); }
  double open_volt() const { return options_.open_volt; }
  const std::vector<std::string>& warnings() const { return warnings_; }

 private:
  void sample_source(const TheveninSource& source);
  void sample_from(const TheveninSource& source);
  void sample_anchor(const Earphone& earphone, const TheveninSource& source,
                     const Array& anchor_hz);
  void sample_noise(const TheveninSource& source, const Band& known);
  /// |p Z + q|^2 of the load, one a frequency.
  Array load_affine_square(const RealAffine& affine) const;
  ComplexArray amplifier_load_ohm(const ResistiveTwoPort& pad) const;

  /// The two-port of the stages between amplifier and pad.
  struct StageTerms {
    ComplexArray a, b_ohm, c_siemens, d;
  };

  PadSiteOptions options_;
  double reference_hz_ = 1000;
  Array grid_hz_;
  ComplexArray load_ohm_, source_ohm_, amplifier_ohm_;
  ComplexArray open_ratio_;  // empty: 1
  std::optional<StageTerms> stages_;
  InsertionTerms insertion_;  // on the grid
  InsertionTerms anchor_, coarse_anchor_;
  std::optional<double> anchor_resistance_;  // the source's over an anchor band, where it is one
  std::optional<OutputMeanBounds> anchor_bounds_;
  Complex reference_source_ohm_ = 0;
  std::optional<double> source_resistance_;  ///< where it is one, the same on the whole grid
  std::optional<SpanOverResistance> span_;
  Array from_power_;  // |bare voltage / voltage behind options_.from|^2; empty: 1
  std::vector<double> load_square_, load_twice_real_;  // padded_to_lanes
  Array bare_ampere_square_;       // |current|^2 into the earphone without a pad, re 1 V open there
  ComplexArray noise_source_ohm_;  // one value where it is one resistance
  Array noise_weight_;             // A-weighting squared, times the width in hertz of each point
  std::vector<std::string> warnings_;
};

}  // namespace ohmtilt
