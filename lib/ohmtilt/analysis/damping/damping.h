#pragma once
// How the source changes the Q and the decay of every resonance.
#include <ohmtilt/analysis/damping/damping_system.h>
#include <ohmtilt/analysis/damping/mode_tracks.h>
#include <ohmtilt/analysis/damping/time_response.h>
#include <ohmtilt/base/frequency_grid.h>

#include <optional>
#include <string>
#include <vector>

namespace ohmtilt {

struct DampingOptions {
  Band band;                              ///< modes that lie in it at one of the sources are listed
  Eigen::Index points = 480;              ///< of the damping factor over the band, >= 2
  std::optional<double> burst_hz;         ///< the mode that changes most, without
  int cycles = 8;                         ///< of the burst, >= 1
  std::optional<double> limit_q_percent;  ///< > 0: also find the largest source within it
  bool locus = false;                     ///< also follow the modes from 0.1 to 1000 ohm
};

/// One mode at each source: 0 ohm, the sources in their order (without another 0 ohm), infinity.
struct DampedMode {
  std::optional<std::string> name;  ///< of the driver whose resonance it is
  /// The one frequency that it goes by: at the first source, or at the first of `at` where it is.
  double hz = 0;
  std::vector<std::optional<PairMode>> at;  ///< nothing where it does not exist
};

/// What an entry of DampedMode::at belongs to.
struct DampingCondition {
  std::string label;
  std::optional<std::size_t> source;  ///< which of the sources; nothing for 0 ohm and infinity
  double source_ohm = 0;              ///< |Zs| at 1 kHz; infinity for the open earphone
  std::string short_label;            ///< for narrow places
};

/// Q of a moving-coil driver behind a source resistance Rs: Qes (Re + Rs)/Re [Small1972].
struct DriverQ {
  double source_ohm = 0;  ///< Re Zs at the driver's resonance
  double q_electrical = 0, q_total = 0;
};
DriverQ driver_q(const MovingCoil& driver, double source_ohm);

struct DampingFactor {
  double source_ohm = 0;
  Array ratio;                  ///< |Z|/|Zs|; infinite at 0 ohm
  Array ratio_with_coil;        ///< |Z|/|Zs + coil_ohm|; empty where coil_ohm is 0
  std::optional<double> rated;  ///< rated impedance over |Zs| at 1 kHz; nothing at 0 ohm
};

struct MotionalBurst {
  std::string driver;
  BurstResponse response;
};
struct SourceBurst {
  std::string label;
  BurstResponse terminal;
  std::vector<MotionalBurst> motional;
};
struct SourceStep {
  std::string label;
  Array terminal_volt;           ///< on Damping::step_grid
  Array volt_at_burst_instants;  ///< on Damping::burst_grid
};

/// Modes over resistive sources, for figures: one column of pairs a listed mode.
struct DampingLocus {
  Array source_ohm;  ///< 200 from 0.1 to 1000, equally spaced in the logarithm
  std::vector<std::vector<std::optional<PairMode>>> modes;  ///< one a listed mode, one a resistance
};

struct QLimit {
  double limit_percent = 0;
  double worst_percent = 0;  ///< largest change of a Q from the first source to the others
  bool exceeded = false;
  std::optional<double> largest_ohm;  ///< every resistance up to it keeps within; nothing: none
  bool unlimited = false;             ///< even an open source keeps within
};

struct Damping {
  std::vector<DampingCondition> conditions;
  std::vector<std::size_t>
      condition_of_source;  ///< one per source; a source of 0 ohm has the first
  std::vector<DampedMode> modes;
  std::vector<DriverQ> driver;  ///< one a source; empty without a moving coil
  /// Direct-current resistance of an earphone all of whose direct current flows through a moving
  /// coil; 0 for others, where that resistance says nothing of what damps a driver.
  double coil_ohm = 0;
  double rated_ohm = 0;  ///< stated, or lowest |Z|/0.8 (IEC 60268-7's rule of 80 %)
  bool rated_is_stated = false;
  Array frequency_hz;
  std::vector<DampingFactor> factors;  ///< one a source
  ToneBurst burst;
  bool burst_is_at_mode = false;
  TimeGrid burst_grid, step_grid;
  std::vector<SourceBurst> bursts;
  std::vector<SourceStep> steps;
  /// Largest change of a Q from 0 ohm to a resistance of a tenth of rated_ohm (a damping factor of
  /// 10), in percent.
  double change_at_factor_ten_percent = 0;
  /// Of modes: the largest change of Q in percent between the first source and the others; among
  /// those with a Q above 0.71 at one of the two, if there are any.
  std::optional<std::size_t> most_changed;
  std::optional<DampingLocus> locus;
  std::optional<QLimit> limit;
  std::vector<std::string> warnings;
};

/// sources: the first one is compared with the others. Throws InputError for fewer than two, unless
/// a limit is asked, and for options out of range.
Damping damping(const DampingEarphone& earphone, const std::vector<DampingSource>& sources,
                const DampingOptions& options = {});

}  // namespace ohmtilt
