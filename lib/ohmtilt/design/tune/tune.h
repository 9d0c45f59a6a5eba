#pragma once
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/design/tune/tuned_values.h>

namespace ohmtilt {

/// What can be asked of values. All over the band, with the earphone in place.
enum class TuneAim {
  span,       ///< of the deviation from the reference source, dB
  target,     ///< largest difference of |Z| that the amplifier sees from a target's, dB
  lowest,     ///< lowest |Z| that the amplifier sees, ohm: the one aim that shall be high
  loss,       ///< from the unloaded amplifier to the terminals, dB
  current,    ///< largest current of the amplifier for 1 V without load, A/V
  noise,      ///< thermal noise of the stages at the terminals, A-weighted, V
  tolerance,  ///< 95 % of the draws have a span of no more, dB
};
inline constexpr std::size_t tune_aim_count = 7;
/// "span", ..., and back; nothing for another word.
const char* to_string(TuneAim aim);
std::optional<TuneAim> aim_of_name(std::string_view name);
std::vector<std::string> aim_names();
/// A number that is lower the better, in dB: the value itself, or 20 lg of it with its sign.
double cost_of(TuneAim aim, double value);
double value_of(TuneAim aim, double cost);

/// At most value; of TuneAim::lowest at least. A loss may have to be at least something, too.
struct TuneLimit {
  TuneAim aim = TuneAim::loss;
  double value = 0;
  std::optional<double> least = std::nullopt;
};

struct TuneGoal {
  TuneAim minimise = TuneAim::span;
  std::vector<TuneLimit> limits;
};

struct TuneOptions {
  Band band;
  Eigen::Index points = 480;                  ///< 16 <= points
  TheveninSource from = resistive_source(0);  ///< the reference of the deviation
  double loss_hz = 1000;                      ///< where loss is taken; moved into the band
  TuneGoal goal;
  std::optional<TuneAim> front;     ///< an aim to trade the minimised one for
  std::optional<OnePort> target;    ///< for TuneAim::target
  std::optional<Band> target_band;  ///< where it counts; nothing: where it is known
  long samples = 400;               ///< draws of the tolerance that is reported, 10 to 1,000,000
  std::uint64_t seed = 1;
  std::function<void(double)> progress;
};

/// What a chain does with an earphone, worked out as the other analyses do.
struct TuneFigures {
  double value[tune_aim_count] = {};  ///< one an aim, NaN where it has none
  Array deviation_db;                 ///< normalised at loss_hz
  Array input_ohm;                    ///< |Z| that the amplifier sees
  double operator[](TuneAim aim) const { return value[static_cast<std::size_t>(aim)]; }
};

struct TunePoint {
  std::vector<Setting> settings;  ///< one a move
  double minimised = 0;           ///< value of the minimised aim
  double traded = 0;              ///< of TuneOptions::front
};

struct Tuning {
  Array hz;
  std::vector<Setting> settings;
  TuneFigures before, after;
  bool within_limits = false;  ///< otherwise settings exceed them the least
  /// Every combination of the choices was judged, or ruled out by a lower limit of what it costs.
  bool complete = false;
  double combinations = 0;       ///< of the choices; 0 where a value moves freely
  std::vector<TunePoint> front;  ///< no point better in both; rising in the traded cost
  TunedSubject tuned;
  Array target_ohm;  ///< on hz, NaN outside the target's band; empty without one
};

/// True where goal or front asks for it.
bool asks_for(const TuneGoal& goal, const std::optional<TuneAim>& front, TuneAim aim);

/// Values for the moves that bring the minimised aim lowest while the limits hold. Free optima come
/// first, from seeded starts over the ranges and the values that the files have, by [Madsen1975] on
/// the exact derivatives of all aims but noise and tolerance (whose are differences). Values that
/// can be had are then sought jointly: all combinations up to 300,000 of them, by bounds from part
/// of the grid, which is exact; beyond that all combinations within a window about each of the best
/// free optima, moved until its middle is the best. A tolerance is followed by linear propagation
/// of 200 draws while searching, and drawn in full for the report. Results depend neither on
/// threads nor on the machine. Throws InputError for options out of bounds, an aim that the files
/// do not allow, and for no moves or more than 12.
Tuning tune(const TunedSubject& subject, const std::vector<Move>& moves,
            const TuneOptions& options);

/// Of any subject. Throws InputError as the analyses do.
TuneFigures tune_figures(const TunedSubject& subject, const TuneOptions& options);
/// The frequencies of the figures.
Array tune_grid(const TunedSubject& subject, const TuneOptions& options);

}  // namespace ohmtilt
