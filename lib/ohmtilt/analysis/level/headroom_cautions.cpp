#include <ohmtilt/analysis/level/headroom_cautions.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// Phases of an impedance below which a load counts as having no DC path, and as capacitive.
constexpr double blocking_radian = -60 * degree;
constexpr double capacitive_radian = -45 * degree;
/// As good as direct current: what blocks that lets a current through here that rises with
/// frequency.
constexpr double near_dc_hz = 1e-3;

/// An ideal transformer would pass direct current; a real one passes none.
bool has_transformer(const Stage& stage) {
  if (std::holds_alternative<TransformerStage>(stage)) return true;
  const auto* of = std::get_if<CircuitStage>(&stage);
  if (of == nullptr) return false;
  const auto& parts = of->circuit->parts();
  return std::any_of(parts.begin(), parts.end(),
                     [](const Part& part) { return part.kind == PartKind::transformer; });
}

/// Direct current in ampere through load_ohm for 1 V at the amplifier; nothing where a stage or the
/// output keeps it away.
std::optional<double> direct_ampere(const Chain& chain, const Earphone& earphone, double load_ohm) {
  const auto& stages = chain.stages();
  if (std::any_of(stages.begin(), stages.end(), has_transformer)) return std::nullopt;
  const Band known = thevenin_source(chain).output.range();
  const double low = std::max(near_dc_hz, known.low_hz);
  const Array hz = (Array(2) << low, std::min(2 * low, known.high_hz)).finished();
  const Array ampere = drive(chain, with_resistance(earphone, load_ohm), hz).terminal_ampere;
  if (ampere[1] > 1.5 * ampere[0]) return std::nullopt;
  return ampere[0];
}

}  // namespace

std::optional<std::string> bias_caution(const Chain& chain, const Earphone& earphone) {
  const double bias = chain.source().bias_volt;
  if (bias == 0) return std::nullopt;
  const std::string caution =
      "the output carries a bias of " + number_text(bias) + " V; do not connect the earphone";
  const double low_hz = std::max(near_dc_hz, earphone.impedance.range().low_hz);
  const Complex load_ohm = earphone.impedance.at(low_hz);
  const auto ampere = std::arg(load_ohm) < blocking_radian
                          ? std::nullopt
                          : direct_ampere(chain, earphone, std::abs(load_ohm));
  if (!ampere)
    return caution + " before it is certain that a capacitor or a transformer keeps it away";
  return caution + ": through " + printable(earphone.title) + " it would drive about " +
         number_text(std::round(1e4 * std::abs(bias) * *ampere) / 10) + " mA of direct current" +
         (low_hz > near_dc_hz ? " (impedance at " + number_text(low_hz) + " Hz)" : "");
}

namespace {

void warn_of_capacitance(const ChainDrive& drive, const TargetNeeds& target,
                         std::vector<std::string>& warnings) {
  const auto last = drive.hz.size() - 1;
  if (std::arg(drive.load_ohm[last]) > capacitive_radian) return;
  Eigen::Index first = last;
  while (first > 0 && std::arg(drive.load_ohm[first - 1]) < capacitive_radian) --first;
  const double milliampere = 1000 * target.emf_volt * drive.source_ampere[last];
  warnings.push_back("the load is capacitive from " + number_text(std::round(drive.hz[first])) +
                     " Hz up: its current rises with frequency, a full-level tone at the top would "
                     "take " +
                     number_text(std::round(milliampere * 10) / 10) + " mA");
}

void warn_of_level(const Headroom& result, std::vector<std::string>& warnings) {
  const double level = result.target.level_dba;
  if (level > niosh_level_dba)
    warnings.push_back(
        "a level of " + number_text(std::round(level * 10) / 10) + " dB(A) is safe for only " +
        number_text(std::round(result.safe_minutes * 10) / 10) +
        " minutes a day (NIOSH 1998: 85 dB(A) for 8 h, 3 dB exchange); follow local rules and ask "
        "an audiologist");
  if (result.target.limited_by == Limit::earphone && result.target.headroom_db < 0)
    warnings.push_back("the target's peaks are above the power that the earphone bears");
}

void warn_of_earphone_power(const Earphone& earphone, const Headroom& result,
                            std::vector<std::string>& warnings) {
  const auto& by = result.largest.limited_by;
  if (std::find(by.begin(), by.end(), Limit::earphone) != by.end())
    warnings.push_back("the amplifier can give more than the " +
                       number_text(*earphone.max_watt * 1000) +
                       " mW that the earphone bears: turn up with care");
}

}  // namespace

std::vector<std::string> headroom_cautions(const Chain& chain, const Earphone& earphone,
                                           const ChainDrive& drive, const Headroom& result) {
  std::vector<std::string> warnings;
  if (auto bias = bias_caution(chain, earphone)) warnings.push_back(std::move(*bias));
  warn_of_capacitance(drive, result.target, warnings);
  warn_of_level(result, warnings);
  warn_of_earphone_power(earphone, result, warnings);
  return warnings;
}

}  // namespace ohmtilt
