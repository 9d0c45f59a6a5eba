#include <ohmtilt/analysis/level/headroom.h>
#include <ohmtilt/analysis/level/headroom_cautions.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/hearing/programme_spectrum.h>
#include <ohmtilt/hearing/weighting.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {

void check(const HeadroomOptions& options) {
  if (!(std::abs(options.target_db) <= 200))
    throw InputError("a target of " + number_text(options.target_db) + " dB is no sound level",
                     "give dB SPL, such as 85");
  if (!(options.crest_db >= 0 && options.crest_db <= 60))
    throw InputError("a crest of " + number_text(options.crest_db) + " dB is not physical",
                     "give 0 to 60 dB; 20 dB leaves room for music's peaks");
}

namespace {

constexpr double no_limit = std::numeric_limits<double>::infinity();
constexpr Eigen::Index programme_points = 241;  // eight a third-octave, whatever --points says

// ---- limits ------------------------------------------------------------------------------------

/// |output impedance| at 1 kHz, or the nearest frequency at which it is known.
double output_resistance(const Source& source) {
  if (!source.output_curve) return source.output_ohm;
  const Band& range = source.output_curve->range();
  return std::abs(source.output_curve->at(std::clamp(1000.0, range.low_hz, range.high_hz)));
}

std::optional<PowerClaims> power_of(const Source& source) {
  if (source.power.empty()) return std::nullopt;
  return fit_power_claims(source.power,
                          {output_resistance(source), source.open_volt, source.balanced});
}

std::string rounded(double value) { return number_text(std::round(value * 1000) / 1000); }

bool agree(double a, double b) { return std::abs(db_from_amplitude(a / b)) <= claim_tolerance_db; }

/// The limit that counts where one is stated and the power points show one: they agree, or the
/// lower one, which is said. Nothing where neither is.
std::optional<double> reconciled(const char* key, const char* unit,
                                 const std::optional<double>& stated,
                                 const std::optional<double>& shown,
                                 std::vector<std::string>& warnings) {
  if (!stated || !shown) return stated ? stated : shown;
  if (agree(*stated, *shown)) return stated;
  warnings.push_back(std::string(key) + " is stated as " + rounded(*stated) + unit +
                     ", and the power points give " + rounded(*shown) + unit +
                     ": the lower one counts");
  return std::min(*stated, *shown);
}

/// A claimed power that the stated limits do not allow.
void warn_of_excess(const Source& source, const PowerClaims& power,
                    std::vector<std::string>& warnings) {
  if (!source.open_volt && !source.max_ampere) return;
  const SourceLimits stated{source.open_volt.value_or(no_limit), output_resistance(source),
                            source.max_ampere};
  for (const auto& point : power.points) {
    if (!point.comparable) continue;
    const LimitedPower most = largest_power(stated, point.claim.load_ohm);
    if (db_from_power(point.claim.watt / most.watt) <= claim_tolerance_db) continue;
    warnings.push_back(rounded(point.claim.watt) + " W into " + number_text(point.claim.load_ohm) +
                       " ohm is claimed, and the stated " +
                       (most.limited_by == Limit::current ? "max_ampere" : "open_volt") +
                       " allows " + rounded(most.watt) + " W there");
  }
}

/// What stands in for a key that is missing, or speaks against one, in words.
std::vector<std::string> limit_warnings(const Source& source, const AmplifierLimits& limits) {
  std::vector<std::string> warnings;
  if (!source.open_volt)
    warnings.push_back("open_volt is not stated; " + rounded(limits.least_open_volt()) +
                       " V is what the power points give");
  if (limits.fitted)
    warnings.push_back(
        "the power points fit " + rounded(limits.fitted->open_volt) + " V behind " +
        rounded(limits.fitted->output_ohm) + " ohm, not the stated output of " +
        rounded(output_resistance(source)) +
        " ohm: the largest levels are worked out with the points', the response with "
        "the stated one");
  if (!limits.max_ampere)
    warnings.push_back(
        "max_ampere is not stated and no power point shows it: only voltage limits the level");
  return warnings;
}

[[noreturn]] void refuse_without_volt(const Chain& chain) {
  if (chain.file().empty())
    throw InputError(
        "a plain resistance or curve has no voltage limit (" + printable(chain.title()) + ")",
        "give a chain file with open_volt in [source]");
  throw InputError(Place{chain.file()},
                   printable(chain.title()) +
                       ": the key `open_volt` is missing from [source], and without the "
                       "largest clean voltage there is no headroom to work out",
                   "write the largest clean rms voltage without load, or [[source.power]] points");
}

/// The stated limits and those of the power points: one stands in for the other where it is not
/// stated, and the lower one counts where they differ. Where the points tell the output resistance,
/// their limits belong together and hold beside the stated ones.
AmplifierLimits limits_of(const Chain& chain, const std::optional<PowerClaims>& power,
                          std::vector<std::string>& warnings) {
  const Source& source = chain.source();
  if (!source.open_volt && !power) refuse_without_volt(chain);
  AmplifierLimits limits{source.open_volt.value_or(no_limit), std::nullopt, source.max_ampere};
  if (!power) return limits;
  const std::optional<double> shown_volt = power->limits.open_volt;
  const auto volt = reconciled("open_volt", " V", source.open_volt, shown_volt, warnings);
  if (power->output_fitted)
    limits.fitted = power->limits;
  else
    limits.open_volt = *volt;
  const auto& shown = power->limits.max_ampere;
  limits.max_ampere = reconciled("max_ampere", " A", source.max_ampere, shown, warnings);
  if (limits.fitted && shown) limits.max_ampere = std::min(*limits.max_ampere, *shown);
  warn_of_excess(source, *power, warnings);
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

/// The chain on its earphone, with what levels are worked out from. One value a frequency.
struct Driven {
  ChainDrive drive;
  Array level_db;       ///< SPL for 1 V at the earphone
  Array bearable_volt;  ///< most at the earphone
};

Driven driven(const SolvedChain& chain, const Earphone& earphone, const Array& hz) {
  ChainDrive drive_of = drive(chain, earphone, hz);
  Array bearable = bearable_volt(earphone, drive_of.load_ohm);
  return {std::move(drive_of), level_db_per_volt(earphone, hz), std::move(bearable)};
}

/// E.m.f. behind the power points' output resistance that 1 V behind the source's own stands for:
/// both drive the same current, one a frequency.
Array fitted_emf(const ChainDrive& drive, const SourceLimits& fitted) {
  return drive.source_ampere * (fitted.output_ohm + drive.input_ohm).abs();
}

LargestLevel largest_level(const Driven& driven, const AmplifierLimits& limits) {
  const ChainDrive& drive = driven.drive;
  const Array one_volt_db = driven.level_db + db_from_amplitude(drive.terminal_volt);
  Array by_voltage = Array::Constant(drive.hz.size(), limits.open_volt);
  if (limits.fitted)
    by_voltage = by_voltage.min(limits.fitted->open_volt / fitted_emf(drive, *limits.fitted));
  const Array by_current = limits.max_ampere.value_or(no_limit) / drive.source_ampere;
  const Array by_earphone = driven.bearable_volt / drive.terminal_volt;
  LargestLevel result;
  result.hz = drive.hz;
  result.emf_volt = by_voltage.min(by_current).min(by_earphone);
  result.spl_db = one_volt_db + db_from_amplitude(result.emf_volt);
  result.voltage_db = one_volt_db + db_from_amplitude(by_voltage);
  result.current_db = one_volt_db + db_from_amplitude(by_current);
  result.earphone_db = one_volt_db + db_from_amplitude(by_earphone);
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

ProgrammePerVolt programme_per_volt(const Driven& driven) {
  const ChainDrive& drive = driven.drive;
  const auto mean = [&](const Array& power) { return programme_mean(drive.hz, power); };
  const Array volt2 = drive.terminal_volt.square();
  const Array sound = volt2 * power_from_db(driven.level_db);
  const Array a_power = power_from_db(a_weighting_db(drive.hz));
  const Array load = volt2 / driven.bearable_volt.square();  // share of the earphone's limit at 1 V
  return {db_from_power(mean(sound)),
          db_from_power(mean(sound * a_power)),
          std::sqrt(mean(drive.source_ampere.square())),
          std::sqrt(mean(volt2)),
          std::sqrt(mean(drive.terminal_ampere.square())),
          mean(volt2 * (1 / drive.load_ohm).real()),
          1 / std::sqrt(mean(load))};
}

/// The e.m.f. of programme that the amplifier's voltage allows.
double programme_volt(const ChainDrive& drive, const AmplifierLimits& limits) {
  if (!limits.fitted) return limits.open_volt;
  const double one =
      std::sqrt(programme_mean(drive.hz, fitted_emf(drive, *limits.fitted).square()));
  return std::min(limits.open_volt, limits.fitted->open_volt / one);
}

TargetNeeds target_needs(const Driven& driven, const AmplifierLimits& limits,
                         const HeadroomOptions& options) {
  const ProgrammePerVolt one = programme_per_volt(driven);
  const double emf = amplitude_from_db(options.target_db + options.crest_db - one.spl_db);
  const double by_voltage = programme_volt(driven.drive, limits);
  const double by_current = limits.max_ampere.value_or(no_limit) / one.source_ampere;
  const Allowed allowed = smallest(by_voltage, by_current, one.bearable_volt);
  TargetNeeds needs;
  needs.spl_db = options.target_db;
  needs.level_dba = options.target_db + one.level_dba - one.spl_db;
  needs.emf_volt = emf;
  needs.clip_volt = by_voltage;
  needs.trip_volt = by_current;
  needs.source_ampere = emf * one.source_ampere;
  needs.volt = emf * one.volt;
  needs.ampere = emf * one.ampere;
  needs.watt = emf * emf * one.watt;
  needs.headroom_db = db_from_amplitude(allowed.emf_volt / emf);
  needs.limited_by = allowed.limited_by;
  return needs;
}

/// Clean programme, in volt rms, into the resistance on which EN 50332-2 measures a player, in the
/// earphone's place.
double player_volt(const SolvedChain& chain, const Earphone& earphone, const Array& hz,
                   const AmplifierLimits& limits) {
  const ChainDrive one = drive(chain, with_resistance(earphone, player_limit_load_ohm), hz);
  const auto rms = [&](const Array& value) {
    return std::sqrt(programme_mean(hz, value.square()));
  };
  const double by_current = limits.max_ampere.value_or(no_limit) / rms(one.source_ampere);
  return std::min(programme_volt(one, limits), by_current) * rms(one.terminal_volt);
}

// ---- volume ------------------------------------------------------------------------------------

GainPosition gain_position(const VolumeLaw& law, double input_volt, double gain_db,
                           const TargetNeeds& target, double open_volt) {
  const double full_volt = input_volt * amplitude_from_db(gain_db);
  const auto travel = [&](double emf_volt) {
    return travel_at_gain(law, db_from_amplitude(emf_volt / full_volt));
  };
  GainPosition position;
  position.gain_db = gain_db;
  position.control_db = db_from_amplitude(target.emf_volt / full_volt);
  position.travel_percent = travel(target.emf_volt);
  position.clip_open_percent = travel(open_volt);
  if (std::isfinite(target.trip_volt)) position.trip_percent = travel(target.trip_volt);
  position.clip_loaded_percent = travel(std::min(target.clip_volt, target.trip_volt));
  if (position.travel_percent) position.imbalance = imbalance_at(law, *position.travel_percent);
  return position;
}

std::vector<GainPosition> gain_positions(const Source& source, const TargetNeeds& target,
                                         const AmplifierLimits& limits) {
  if (!source.input_volt || !source.volume) return {};
  const auto steps = source.gain_db.empty() ? std::vector<double>{0} : source.gain_db;
  std::vector<GainPosition> positions;
  positions.reserve(steps.size());
  for (const double gain_db : steps)
    positions.push_back(gain_position(*source.volume, *source.input_volt, gain_db, target,
                                      limits.least_open_volt()));
  return positions;
}

bool attenuates(const Chain& chain) {
  return without_attenuation(chain).stages().size() < chain.stages().size();
}

BothSensitivities both_sensitivities(const Earphone& earphone) {
  const double hz = earphone.sensitivity->hz;
  const double at_hz =
      std::clamp(hz, earphone.impedance.range().low_hz, earphone.impedance.range().high_hz);
  BothSensitivities both{earphone.sensitivity->db_per_volt, 0, 0, MilliwattOf::impedance, hz};
  if (earphone.sensitivity_ohm) {
    both.ohm = *earphone.sensitivity_ohm;
    both.milliwatt_of = MilliwattOf::stated;
  } else if (earphone.rated_ohm) {
    both.ohm = *earphone.rated_ohm;
    both.milliwatt_of = MilliwattOf::rated;
  } else {
    both.ohm = std::abs(earphone.impedance.at(at_hz));
  }
  both.db_per_milliwatt = both.db_per_volt - db_per_volt_from_milliwatt(0, both.ohm);
  return both;
}

}  // namespace

double AmplifierLimits::least_open_volt() const {
  return fitted ? std::min(open_volt, fitted->open_volt) : open_volt;
}

Headroom headroom(const Chain& chain, const Earphone& of, const HeadroomOptions& options) {
  check(options);
  Headroom result;
  result.power = power_of(chain.source());
  std::vector<std::string> differences;
  result.limits = limits_of(chain, result.power, differences);
  result.warnings = limit_warnings(chain.source(), result.limits);
  append_new(result.warnings, differences);
  const SolvedChain solved(chain);
  const KnownBand known = known_band(solved, of, options.band);
  const KnownBand whole = known_band(solved, of, Band{});
  append_new(result.warnings, known.cut);
  append_new(result.warnings, whole.cut);
  const Array tones_hz = log_grid(known.band, options.points);
  const Array programme_hz = log_grid(whole.band, programme_points);
  Array all_hz(tones_hz.size() + programme_hz.size());
  all_hz << tones_hz, programme_hz;
  const Earphone earphone = sampled(of, all_hz);
  const Driven tones = driven(solved, earphone, tones_hz);
  const Driven programme = driven(solved, earphone, programme_hz);
  result.largest = largest_level(tones, result.limits);
  result.target = target_needs(programme, result.limits, options);
  result.player_volt = player_volt(solved, earphone, programme_hz, result.limits);
  result.gain = gain_positions(chain.source(), result.target, result.limits);
  if (!result.gain.empty() && attenuates(chain)) {
    const Driven bare = driven(without_attenuation(chain), earphone, programme.drive.hz);
    result.gain_without_pad =
        gain_positions(chain.source(), target_needs(bare, result.limits, options), result.limits);
  }
  result.sensitivity = both_sensitivities(earphone);
  result.niosh_minutes_a_day = std::min(niosh_minutes_at(result.target.level_dba), 24.0 * 60);
  if (result.power) append_new(result.warnings, result.power->warnings);
  result.cautions = headroom_cautions(earphone, programme.drive, result);
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
