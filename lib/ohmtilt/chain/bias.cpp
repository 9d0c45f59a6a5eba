#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// Phase of an impedance below which a load counts as having no path for direct current.
constexpr double blocking_radian = -60 * degree;
/// As good as direct current: what blocks that lets a current through here that rises with
/// frequency.
constexpr double near_dc_hz = 1e-3;
/// Leaks more than any coupling capacitor near direct current, and less than any earphone.
constexpr double leak_ohm = 1e3;

/// An ideal transformer would pass direct current; a real one passes none.
bool has_transformer(const Stage& stage) {
  if (std::holds_alternative<TransformerStage>(stage)) return true;
  const auto* of = std::get_if<CircuitStage>(&stage);
  if (of == nullptr) return false;
  const auto& parts = of->circuit->parts();
  return std::any_of(parts.begin(), parts.end(),
                     [](const Part& part) { return part.kind == PartKind::transformer; });
}

/// The earphone as direct current finds it.
struct DirectLoad {
  double hz = 0;   ///< where ohm was taken
  double ohm = 0;  ///< infinite where it blocks
  bool blocks() const { return std::isinf(ohm); }
};

DirectLoad direct_load(const Earphone& earphone) {
  const double hz = std::max(near_dc_hz, earphone.impedance.range().low_hz);
  const Complex ohm = earphone.impedance.at(hz);
  const bool blocks = earphone.blocks_direct_current.value_or(std::arg(ohm) < blocking_radian);
  return {hz, blocks ? INFINITY : std::abs(ohm)};
}

/// What arrives at the terminals of 1 V of bias.
struct DirectDrive {
  double volt = 0, ampere = 0;
};

/// Nothing where a stage or the output's coupling keeps it away.
std::optional<DirectDrive> direct_drive(const TheveninSource& source, const DirectLoad& load) {
  const auto& stages = source.chain->stages();
  if (std::any_of(stages.begin(), stages.end(), has_transformer)) return std::nullopt;
  const Band& known = source.output.range();
  const double low = std::max(near_dc_hz, known.low_hz);
  const Array hz = (Array(2) << low, std::min(2 * low, known.high_hz)).finished();
  const TheveninSamples samples = source.at(hz);
  const Array open =
      samples.open_ratio.size() > 0 ? Array(samples.open_ratio.abs()) : Array::Ones(2).eval();
  const double ohm = load.blocks() ? leak_ohm : load.ohm;
  const Array ampere = open / (samples.output_ohm + ohm).abs();
  if (ampere[1] > 1.5 * ampere[0]) return std::nullopt;
  if (load.blocks()) return DirectDrive{open[0], 0};
  return DirectDrive{ampere[0] * ohm, ampere[0]};
}

std::string volts(double volt) { return number_text(std::round(volt * 1e3) / 1e3) + " V"; }

/// Of a driver that needs a bias.
std::string needed_caution(double bias, const std::optional<DirectDrive>& drive,
                           const Earphone& earphone) {
  const double needed = *earphone.needed_bias_volt;
  const std::string needs = printable(earphone.title) + " needs a bias of " + volts(needed);
  if (bias == 0)
    return needs + " and the output carries none: nothing here holds before it has that bias";
  if (!drive)
    return needs + ", and a capacitor or a transformer keeps the output's " + volts(bias) +
           " away from it: nothing here holds before it has that bias";
  const double got = bias * drive->volt;
  if (std::abs(got - needed) > bias_tolerance_percent / 100 * std::abs(needed))
    return needs + " and gets " + volts(got) + " of the output's " + volts(bias) +
           "; do not connect the earphone";
  return needs + ", which the output carries; connect no other earphone to it";
}

/// Of a driver that needs none.
std::string unwanted_caution(double bias, const std::optional<DirectDrive>& drive,
                             const DirectLoad& load, const Earphone& earphone) {
  const std::string caution =
      "the output carries " + number_text(bias) + " V of bias; do not connect the earphone";
  if (!drive || (load.blocks() && !earphone.blocks_direct_current))
    return caution + " before it is certain that a capacitor or a transformer keeps it away";
  if (load.blocks())
    return caution + " before it is certain that its drivers bear that voltage: " +
           printable(earphone.title) + " blocks the current, not the voltage";
  return caution + ": through " + printable(earphone.title) + " it would drive about " +
         number_text(std::round(1e4 * std::abs(bias) * drive->ampere) / 10) +
         " mA of direct current" +
         (load.hz > near_dc_hz ? " (impedance at " + number_text(load.hz) + " Hz)" : "");
}

}  // namespace

std::optional<std::string> bias_caution(const TheveninSource& source, const Earphone& earphone) {
  if (!source.chain) return std::nullopt;
  const double bias = source.chain->source().bias_volt;
  if (bias == 0 && !earphone.needed_bias_volt) return std::nullopt;
  const DirectLoad load = direct_load(earphone);
  const auto drive = direct_drive(source, load);
  return earphone.needed_bias_volt ? needed_caution(bias, drive, earphone)
                                   : unwanted_caution(bias, drive, load, earphone);
}

std::vector<std::string> bias_cautions(const std::vector<TheveninSource>& sources,
                                       const Earphone& earphone) {
  std::vector<std::string> all;
  for (const auto& source : sources)
    if (const auto caution = bias_caution(source, earphone))
      append_new(all, {sources.size() > 1 ? "with " + printable(source.label) + ", " + *caution
                                          : *caution});
  return all;
}

std::optional<std::string> bias_note(const TheveninSource& source) {
  if (!source.chain || source.chain->source().bias_volt == 0) return std::nullopt;
  return "the output carries " + number_text(source.chain->source().bias_volt) +
         " V of bias; do not connect an earphone that does not need it";
}

}  // namespace ohmtilt
