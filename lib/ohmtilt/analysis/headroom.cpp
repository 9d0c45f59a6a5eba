#include <ohmtilt/analysis/headroom.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/base/noise_exposure.h>
#include <ohmtilt/base/programme_spectrum.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/base/weighting.h>
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

constexpr double no_limit = std::numeric_limits<double>::infinity();

void check(const HeadroomOptions& options) {
  if (!(std::abs(options.target_db) <= 200))
    throw InputError("a target of " + number_text(options.target_db) + " dB is no sound level",
                     "give dB SPL, such as 85");
  if (!(options.crest_db >= 0 && options.crest_db <= 60))
    throw InputError("a crest of " + number_text(options.crest_db) + " dB is not physical",
                     "give 0 to 60 dB; 20 dB leaves room for music's peaks");
}

// ---- limits ------------------------------------------------------------------------------------

std::optional<PowerClaims> power_of(const Source& source) {
  if (source.power.empty()) return std::nullopt;
  const double output_ohm =
      source.output_curve
          ? std::abs(source.output_curve->at(std::clamp(1000.0, source.output_curve->range().low_hz,
                                                        source.output_curve->range().high_hz)))
          : source.output_ohm;
  return fit_power_claims(source.power, {output_ohm, source.open_volt, source.balanced});
}

/// The stated limits; the power points stand in for what is not stated.
SourceLimits limits_of(const Chain& chain, const std::optional<PowerClaims>& power,
                       std::vector<std::string>& warnings) {
  const Source& source = chain.source();
  if (!source.open_volt && !power)
    throw InputError(
        Place{chain.file()},
        printable(chain.title()) +
            ": the key `open_volt` is missing from [source], and without the largest "
            "clean voltage there is no headroom to work out",
        "write the largest clean rms voltage without load, or [[source.power]] points");
  SourceLimits limits{source.open_volt ? *source.open_volt : power->limits.open_volt,
                      source.output_ohm, source.max_ampere};
  if (!source.open_volt)
    warnings.push_back("open_volt is not stated; " +
                       number_text(std::round(limits.open_volt * 1000) / 1000) +
                       " V is what the power points give");
  if (!limits.max_ampere && power) limits.max_ampere = power->limits.max_ampere;
  if (!limits.max_ampere)
    warnings.push_back(
        "max_ampere is not stated and no power point shows it: only voltage limits the level");
  return limits;
}

/// The most that the earphone bears at its terminals, in volt rms a frequency: its power is
/// V^2/rated_ohm, as IEC 60268-7 states it, or without a rated impedance the active power.
Array bearable_volt(const Earphone& earphone, const ComplexArray& load_ohm) {
  const auto points = load_ohm.size();
  if (!earphone.max_watt) return Array::Constant(points, no_limit);
  if (earphone.rated_ohm)
    return Array::Constant(points, std::sqrt(*earphone.max_watt * *earphone.rated_ohm));
  const Array siemens = (1 / load_ohm).real();
  return (siemens > 0).select((*earphone.max_watt / siemens.max(1e-300)).sqrt(), no_limit);
}

struct Allowed {
  double emf_volt = 0;
  Limit limited_by = Limit::voltage;
};

/// The smallest of three e.m.f.s; at a tie the voltage, then the current rules.
Allowed smallest(double by_voltage, double by_current, double by_earphone) {
  Allowed allowed{by_voltage, Limit::voltage};
  if (by_current < allowed.emf_volt) allowed = {by_current, Limit::current};
  if (by_earphone < allowed.emf_volt) allowed = {by_earphone, Limit::earphone};
  return allowed;
}

LargestLevel largest_level(const Drive& drive, const Array& level_db, const SourceLimits& limits,
                           const Array& bearable) {
  const Array one_volt_db = level_db + 20 * drive.terminal_volt.log10();
  const Array by_voltage = Array::Constant(drive.hz.size(), limits.open_volt);
  const Array by_current = limits.max_ampere.value_or(no_limit) / drive.source_ampere;
  const Array by_earphone = bearable / drive.terminal_volt;
  LargestLevel result;
  result.hz = drive.hz;
  result.emf_volt = by_voltage.min(by_current).min(by_earphone);
  result.spl_db = one_volt_db + 20 * result.emf_volt.log10();
  result.voltage_db = one_volt_db + 20 * by_voltage.log10();
  result.current_db = one_volt_db + 20 * by_current.log10();
  result.earphone_db = one_volt_db + 20 * by_earphone.log10();
  for (Eigen::Index i = 0; i < drive.hz.size(); ++i)
    result.limited_by.push_back(smallest(by_voltage[i], by_current[i], by_earphone[i]).limited_by);
  return result;
}

// ---- programme ---------------------------------------------------------------------------------

/// What programme of 1 V rms from the amplifier brings; rms values.
struct ProgrammePerVolt {
  double spl_db = 0, level_dba = 0;
  double source_ampere = 0, volt = 0, ampere = 0;
  double watt = 0;
  double bearable_volt = 0;  ///< e.m.f. at which the earphone's limit is reached
};

ProgrammePerVolt programme_per_volt(const Drive& drive, const Array& level_db,
                                    const Array& bearable) {
  const auto mean = [&](const Array& power) { return programme_mean(drive.hz, power); };
  const Array volt2 = drive.terminal_volt.square();
  const Array sound = volt2 * (level_db / 10 * std::log(10.0)).exp();
  const Array a_power = (a_weighting_db(drive.hz) / 10 * std::log(10.0)).exp();
  const Array load = volt2 / bearable.square();  // share of the earphone's limit at 1 V
  return {db_from_power(mean(sound)),
          db_from_power(mean(sound * a_power)),
          std::sqrt(mean(drive.source_ampere.square())),
          std::sqrt(mean(volt2)),
          std::sqrt(mean(drive.terminal_ampere.square())),
          mean(volt2 * (1 / drive.load_ohm).real()),
          1 / std::sqrt(mean(load))};
}

TargetNeeds target_needs(const ProgrammePerVolt& one, const SourceLimits& limits,
                         const HeadroomOptions& options) {
  const double emf = amplitude_from_db(options.target_db + options.crest_db - one.spl_db);
  const Allowed allowed =
      smallest(limits.open_volt, limits.max_ampere.value_or(no_limit) / one.source_ampere,
               one.bearable_volt);
  TargetNeeds needs;
  needs.spl_db = options.target_db;
  needs.level_dba = options.target_db + one.level_dba - one.spl_db;
  needs.emf_volt = emf;
  needs.source_ampere = emf * one.source_ampere;
  needs.volt = emf * one.volt;
  needs.ampere = emf * one.ampere;
  needs.watt = emf * emf * one.watt;
  needs.headroom_db = db_from_amplitude(allowed.emf_volt / emf);
  needs.limited_by = allowed.limited_by;
  return needs;
}

// ---- volume ------------------------------------------------------------------------------------

GainPosition gain_position(const VolumeLaw& law, double input_volt, double gain_db,
                           const TargetNeeds& target, const SourceLimits& limits,
                           double source_ampere_per_volt) {
  const double full_volt = input_volt * amplitude_from_db(gain_db);
  const auto travel = [&](double emf_volt) {
    return travel_at_gain(law, db_from_amplitude(emf_volt / full_volt));
  };
  GainPosition position;
  position.gain_db = gain_db;
  position.control_db = db_from_amplitude(target.emf_volt / full_volt);
  position.travel_percent = travel(target.emf_volt);
  position.clip_open_percent = travel(limits.open_volt);
  const double trip_volt = limits.max_ampere.value_or(no_limit) / source_ampere_per_volt;
  if (std::isfinite(trip_volt)) position.trip_percent = travel(trip_volt);
  position.clip_loaded_percent = travel(std::min(limits.open_volt, trip_volt));
  if (position.travel_percent) position.imbalance = imbalance_at(law, *position.travel_percent);
  return position;
}

std::vector<GainPosition> gain_positions(const Source& source, const TargetNeeds& target,
                                         const SourceLimits& limits) {
  if (!source.input_volt || !source.volume) return {};
  const auto steps = source.gain_db.empty() ? std::vector<double>{0} : source.gain_db;
  std::vector<GainPosition> positions;
  for (const double gain_db : steps)
    positions.push_back(gain_position(*source.volume, *source.input_volt, gain_db, target, limits,
                                      target.source_ampere / target.emf_volt));
  return positions;
}

bool attenuates(const Chain& chain) {
  return without_attenuation(chain).stages().size() < chain.stages().size();
}

// ---- cautions ----------------------------------------------------------------------------------

/// Phase of an impedance below which a load counts as capacitive.
constexpr double capacitive_radian = -60 * degree;

void warn_of_bias(const Chain& chain, const Earphone& earphone, const Drive& drive,
                  std::vector<std::string>& warnings) {
  const double bias = chain.source().bias_volt;
  if (bias == 0) return;
  const std::string caution =
      "the output carries a bias of " + number_text(bias) + " V; do not connect the earphone";
  const bool blocked =
      chain.source().output_farad || std::arg(drive.load_ohm[0]) < capacitive_radian;
  if (blocked) {
    warnings.push_back(caution + " before it is certain that a capacitor keeps it away");
    return;
  }
  const double milliampere = 1000 * std::abs(bias) * drive.terminal_ampere[0];
  warnings.push_back(caution + ": through " + printable(earphone.title) + " it would drive about " +
                     number_text(std::round(milliampere * 10) / 10) +
                     " mA of direct current (impedance at " + number_text(drive.hz[0]) + " Hz)");
}

void warn_of_capacitance(const Drive& drive, const TargetNeeds& target,
                         std::vector<std::string>& warnings) {
  const auto last = drive.hz.size() - 1;
  if (std::arg(drive.load_ohm[last]) > -45 * degree) return;
  Eigen::Index first = last;
  while (first > 0 && std::arg(drive.load_ohm[first - 1]) < -45 * degree) --first;
  const double milliampere = 1000 * target.emf_volt * drive.source_ampere[last];
  warnings.push_back("the load is capacitive from " + number_text(std::round(drive.hz[first])) +
                     " Hz up: its current rises with frequency, a full-level tone at the top would "
                     "take " +
                     number_text(std::round(milliampere * 10) / 10) + " mA");
}

void warn_of_level(const Headroom& result, std::vector<std::string>& warnings) {
  const double level = std::max(result.target.spl_db, result.target.level_dba);
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

BothSensitivities both_sensitivities(const Earphone& earphone) {
  const double hz = earphone.sensitivity->hz;
  const double at_hz =
      std::clamp(hz, earphone.impedance.range().low_hz, earphone.impedance.range().high_hz);
  const double ohm =
      earphone.rated_ohm ? *earphone.rated_ohm : std::abs(earphone.impedance.at(at_hz));
  const double per_volt = earphone.sensitivity->db_per_volt;
  return {per_volt, per_volt - db_per_volt_from_milliwatt(0, ohm), ohm,
          earphone.rated_ohm.has_value(), hz};
}

}  // namespace

Headroom headroom(const Chain& chain, const Earphone& earphone, const HeadroomOptions& options) {
  check(options);
  Headroom result;
  result.power = power_of(chain.source());
  result.limits = limits_of(chain, result.power, result.warnings);
  const KnownBand known = known_band(chain, earphone, options.band);
  result.warnings.insert(result.warnings.end(), known.cut.begin(), known.cut.end());
  const Array hz = log_grid(known.band, options.points);
  const Array level_db = level_db_per_volt(earphone, hz);
  const Drive driven = drive(chain, earphone, hz);
  const Array bearable = bearable_volt(earphone, driven.load_ohm);
  result.largest = largest_level(driven, level_db, result.limits, bearable);
  result.target =
      target_needs(programme_per_volt(driven, level_db, bearable), result.limits, options);
  result.gain = gain_positions(chain.source(), result.target, result.limits);
  if (!result.gain.empty() && attenuates(chain)) {
    const Drive bare = drive(without_attenuation(chain), earphone, hz);
    result.gain_without_pad = gain_positions(
        chain.source(),
        target_needs(programme_per_volt(bare, level_db, bearable), result.limits, options),
        result.limits);
  }
  result.sensitivity = both_sensitivities(earphone);
  if (earphone.max_watt) result.earphone_volt = bearable.minCoeff();
  result.safe_minutes = niosh_minutes_at(std::max(result.target.spl_db, result.target.level_dba));
  if (result.power)
    result.warnings.insert(result.warnings.end(), result.power->warnings.begin(),
                           result.power->warnings.end());
  warn_of_bias(chain, earphone, driven, result.warnings);
  warn_of_capacitance(driven, result.target, result.warnings);
  warn_of_level(result, result.warnings);
  warn_of_earphone_power(earphone, result, result.warnings);
  return result;
}

namespace {

/// Level of full-scale programme at that travel: dB above the target, plus the target's.
std::optional<double> level_at(const Chain& chain, const Headroom& result, double travel_percent) {
  if (result.gain.empty() || std::holds_alternative<DecibelSteps>(*chain.source().volume))
    return std::nullopt;
  const GainPosition& first = result.gain.front();
  return result.target.spl_db + volume_gain_db(*chain.source().volume, travel_percent) -
         first.control_db;
}

}  // namespace

std::optional<SamePosition> at_same_position(const Chain& chain, const Headroom& result,
                                             const Chain& against, const Headroom& other) {
  if (result.gain.empty()) return std::nullopt;
  const double travel = result.gain.front().travel_percent.value_or(100);
  const auto level = level_at(chain, result, travel);
  const auto other_level = level_at(against, other, travel);
  if (!level || !other_level) return std::nullopt;
  return SamePosition{travel, *level, *other_level,
                      result.target.spl_db + result.target.headroom_db,
                      other.target.spl_db + other.target.headroom_db};
}

}  // namespace ohmtilt
