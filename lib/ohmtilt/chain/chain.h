#pragma once
// What stands between an amplifier and an earphone, as FILES.md describes it.
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include <ohmtilt/chain/volume_law.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/one_port.h>

namespace ohmtilt {

/// The duration of what lasts.
inline constexpr double continuous_ms = std::numeric_limits<double>::infinity();

/// A stated or measured point of an amplifier's power.
struct PowerPoint {
  double load_ohm = 0;
  double watt = 0;
  std::optional<double> duration_ms;  ///< of a burst, or continuous_ms; nothing: not stated
  std::optional<double> distortion_percent;
  std::optional<bool> balanced;  ///< of this point; nothing: as the source is
  std::string supply;            ///< in words ("battery", "12 V"); may be empty
};

/// Over what noise_volt was taken: A-weighted, or flat from 20 Hz to 20 kHz.
enum class NoiseWeighting { a, flat };

/// The amplifier. What is not known is nothing; the analysis that needs it says so.
struct Source {
  double output_ohm = 0;                ///< of both legs together if balanced
  std::optional<OnePort> output_curve;  ///< in place of output_ohm
  std::string output_curve_file;        ///< as written in the chain's file
  std::optional<double> output_farad;   ///< in series with the output: a coupling capacitor
  double output_henry = 0;              ///< in series with the output
  bool balanced = false;
  std::optional<double> open_volt;   ///< largest clean rms voltage without load
  std::optional<double> max_ampere;  ///< rms
  std::vector<double> gain_db;       ///< the steps there are; empty: one, of 0 dB
  std::optional<double> input_volt;  ///< rms at full scale into the volume control
  std::optional<double> noise_volt;  ///< rms at the open output
  NoiseWeighting noise_weighting = NoiseWeighting::a;
  double noise_corner_hz = 0;  ///< 1/f corner
  double bias_volt = 0;        ///< direct voltage at the output
  /// Of the amplifier and its jack, common to both channels; nothing: not stated.
  std::optional<double> shared_return_ohm;
  std::optional<VolumeLaw> volume;
  std::vector<PowerPoint> power;
};

/// U is the L with half of its series value in each leg.
enum class PadTopology { series, L, T, pi, H, O, bridged_T, U };
/// "series", "L", "T", "pi", "H", "O", "bridged-T" or "U", as files write it.
std::string_view topology_name(PadTopology topology);
std::optional<PadTopology> topology_of_name(std::string_view name);
std::vector<std::string> topology_names();
/// The keys of a pad's resistances in the order of FILES.md: {"series_ohm", "shunt_ohm"} for L.
/// H, O and U name the values of one leg; a shunt is whole.
const std::vector<std::string>& pad_keys(PadTopology topology);

/// An attenuation network of resistors.
struct Pad {
  PadTopology topology = PadTopology::L;
  std::vector<double> ohm;  ///< one a key of pad_keys(topology); series arms >= 0, shunts > 0
  double tolerance_percent = 0;
  std::shared_ptr<const ToleranceDetail> tolerance_detail = nullptr;  ///< null: none
  /// The resistance under that key; throws InputError when the topology has no such arm.
  double value(std::string_view key) const;
};

/// An adapter in series.
struct SeriesStage {
  double ohm = 0;
  double henry = 0;
};

/// The loop has 2 conductor_ohm + shared_return_ohm and henry; farad lies across the far end.
struct Cable {
  double conductor_ohm = 0;  ///< of each of a channel's own two conductors
  /// Of a return that both channels use, nearer the source; 0: their returns are joined there,
  /// nothing: each keeps its own.
  std::optional<double> shared_return_ohm;
  double henry = 0;
  double farad = 0;
};

struct TransformerStage {
  double ratio = 1;       ///< volt at the source's side over volt at the earphone's
  double series_ohm = 0;  ///< at the earphone's side
};

/// A potentiometer at the output: its upper arm in series, its lower arm across.
struct VolumeStage {
  double total_ohm = 0;
  double travel_percent = 100;  ///< more than 0
  std::variant<AudioTaper, LinearTaper> law;
  double lower_ohm() const;  ///< between wiper and return
};

/// A circuit with ports `in` and `out`.
struct CircuitStage {
  std::shared_ptr<const Circuit> circuit;
  std::string file;  ///< as written in the chain's file
};

/// A two-port of a file: measured, or computed. Its return conductor is common to both ports.
struct TwoPortStage {
  std::shared_ptr<const TwoPort> two_port;  ///< port 1 towards the source
  std::string file;                         ///< as written in the chain's file
  bool reversed = false;                    ///< the file's port 2 is towards the source
};

using Stage = std::variant<Pad, SeriesStage, Cable, TransformerStage, VolumeStage, CircuitStage,
                           TwoPortStage>;

/// "pad", "series", "cable", "transformer", "volume", "circuit" or "two-port".
std::string_view kind_name(const Stage& stage);
const std::vector<std::string>& stage_kind_names();
/// "stage 1: pad", counting from 1: what messages, noise shares and sensitivities call it.
std::string stage_label(std::size_t index, const Stage& stage);

/// A value that is not physical: "`key` is ..., ...".
struct ChainFault {
  std::string key, wrong, remedy;
};
/// The first thing wrong with it, or nothing.
std::optional<ChainFault> fault_of(const PowerPoint& point);
std::optional<ChainFault> fault_of(const VolumeLaw& law);
std::optional<ChainFault> fault_of(const Source& source);
std::optional<ChainFault> fault_of(const Stage& stage);

inline constexpr std::size_t stage_limit = 100;

/// An amplifier and what follows it, up to the earphone's terminals. An immutable value; every
/// number in it is finite and physical.
class Chain {
 public:
  /// Throws InputError naming source or stage and key. file names it in messages.
  Chain(std::string title, Source source, std::vector<Stage> stages, std::string file = {});

  const std::string& title() const { return title_; }
  /// What its file calls it in narrow places, `label`; the title where it does not say.
  const std::string& short_name() const { return label_.empty() ? title_ : label_; }
  const std::string& label() const { return label_; }  ///< empty where the file has none
  Chain with_label(std::string label) const;
  const Source& source() const { return source_; }
  const std::vector<Stage>& stages() const { return stages_; }
  const std::string& file() const { return file_; }
  /// The same amplifier with other stages behind it.
  Chain with_stages(std::vector<Stage> stages) const;

 private:
  std::string title_, label_;
  Source source_;
  std::vector<Stage> stages_;
  std::string file_;
};

/// The chain without its pads and potentiometers: the bare alternative that a pad is judged
/// against.
Chain without_attenuation(const Chain& chain);

}  // namespace ohmtilt
