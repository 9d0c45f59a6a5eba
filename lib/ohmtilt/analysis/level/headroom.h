#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/level/drive.h>
#include <ohmtilt/analysis/level/power_claims.h>
#include <ohmtilt/analysis/level/volume_position.h>

namespace ohmtilt {

struct HeadroomOptions {
  Band band;                  ///< hertz; cut to where all data reach, with a warning
  Eigen::Index points = 480;  ///< 2 <= points
  double target_db = 85;      ///< dB SPL of programme material, unweighted
  double crest_db = 20;       ///< how far its peaks stand above; 0 or more
};

/// Throws InputError for a level or a crest out of range.
void check(const HeadroomOptions& options);

/// What ends the amplifier's clean level: as stated, and as its power points show it.
struct AmplifierLimits {
  double open_volt = 0;  ///< rms e.m.f. behind the source's output impedance; infinite where only
                         ///< the next one is known
  /// Where the points tell the output resistance too: their e.m.f. behind their resistance, which
  /// counts at full level as the source's own does for small signals.
  std::optional<SourceLimits> fitted;
  std::optional<double> max_ampere;  ///< rms; nothing: no limit is known

  double least_open_volt() const;  ///< rms without load
};

/// The largest clean tone at each frequency, and what ends it.
struct LargestLevel {
  Array hz, spl_db;
  Array emf_volt;                             ///< of the amplifier, that brings it
  Array voltage_db, current_db, earphone_db;  ///< where each limit alone would end it; infinite
                                              ///< without that limit
  std::vector<Limit> limited_by;
};

/// What the target asks for at its peaks: target plus crest, as rms of a sine of that level, for
/// programme of the IEC 60268-1 spectrum.
struct TargetNeeds {
  double spl_db = 0;         ///< of the programme
  double level_dba = 0;      ///< the same, A-weighted
  double emf_volt = 0;       ///< of the amplifier
  double clip_volt = 0;      ///< e.m.f. at which its voltage ends the programme's peaks
  double trip_volt = 0;      ///< e.m.f. at which its current does; infinite without that limit
  double source_ampere = 0;  ///< out of the amplifier
  double volt = 0;           ///< at the earphone, as the next two
  double ampere = 0;
  double watt = 0;         ///< active power
  double headroom_db = 0;  ///< up to the first limit; negative: out of reach
  Limit limited_by = Limit::voltage;
};

/// A gain step: where along the volume control's travel things happen. Material reaches full scale
/// (input_volt) at its peaks. Nothing where full travel does not get there, or there is no travel.
struct GainPosition {
  double gain_db = 0;
  double control_db = 0;                 ///< gain that the control must have, re full travel
  std::optional<double> travel_percent;  ///< of the target
  std::optional<double> clip_open_percent, clip_loaded_percent;
  std::optional<double> trip_percent;  ///< where the current limit is reached
  std::optional<Imbalance> imbalance;  ///< between the channels at the target
};

/// The impedance that a milliwatt is of: what the earphone's file states with the sensitivity, the
/// rated one (IEC 60268-7), or |Z| at the sensitivity's frequency.
enum class MilliwattOf { stated, rated, impedance };

/// How the sensitivity reads in the trade's two units.
struct BothSensitivities {
  double db_per_volt = 0, db_per_milliwatt = 0;
  double ohm = 0;  ///< that the milliwatt is of
  MilliwattOf milliwatt_of = MilliwattOf::impedance;
  double hz = 0;
};

/// One chain on one earphone.
struct Headroom {
  AmplifierLimits limits;
  LargestLevel largest;
  TargetNeeds target;
  std::vector<GainPosition> gain;              ///< empty without input_volt and a volume control
  std::vector<GainPosition> gain_without_pad;  ///< empty where the chain has no pad
  std::optional<PowerClaims> power;
  BothSensitivities sensitivity;
  double player_volt = 0;  ///< clean programme into EN 50332-2's 32 ohm in the earphone's place
  double niosh_minutes_a_day = 0;     ///< at the target's level in dB(A); at most the 1440 of a day
  std::vector<std::string> cautions;  ///< what can hurt ears, earphone or amplifier
  std::vector<std::string> warnings;
};

/// Throws InputError naming the missing key: open_volt (unless power points tell it), a
/// sensitivity; and for options out of range.
Headroom headroom(const Chain& chain, const Earphone& earphone, const HeadroomOptions& options);

/// Two chains with their volume controls at the same travel, each at its first gain step, and at
/// their limits: the louder one need not be the stronger.
struct SamePosition {
  double travel_percent = 0;
  double level_db = 0, against_level_db = 0;      ///< dB SPL of full-scale programme there
  double largest_db = 0, against_largest_db = 0;  ///< largest clean peaks of programme, dB SPL
};
/// Nothing where one of them has no travel. The travel is the first one's, at its target.
std::optional<SamePosition> at_same_position(const Chain& chain, const Headroom& result,
                                             const Chain& against, const Headroom& other);

}  // namespace ohmtilt
