#include <ohmtilt/analysis/level/drive.h>
#include <ohmtilt/analysis/level/hiss.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/hearing/weighting.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

constexpr Band audible_band{20, 20000};
constexpr double unknown = std::numeric_limits<double>::quiet_NaN();

// The grid: third-octaves cut to 20 Hz - 20 kHz, each in equal steps of ln f.

constexpr Eigen::Index steps_per_band = 16;  // even, for Simpson's rule

struct BandGrid {
  std::vector<OctaveBand> bands;  ///< edges cut to what is known
  std::vector<bool> whole;        ///< false: the data do not reach over it
  Array hz;                       ///< steps_per_band + 1 a band, one band after the other
};

BandGrid band_grid(const Band& known) {
  BandGrid grid;
  for (OctaveBand band : third_octaves()) {
    const Band wanted = overlap(band.edges, audible_band);
    const bool whole = known.contains(wanted.low_hz) && known.contains(wanted.high_hz);
    if (!(wanted.low_hz < known.high_hz && wanted.high_hz > known.low_hz)) continue;
    band.edges = overlap(wanted, known);
    grid.bands.push_back(band);
    grid.whole.push_back(whole);
  }
  const auto count = static_cast<Eigen::Index>(grid.bands.size());
  grid.hz.resize(count * (steps_per_band + 1));
  for (Eigen::Index b = 0; b < count; ++b)
    grid.hz.segment(b * (steps_per_band + 1), steps_per_band + 1) =
        log_grid(grid.bands[static_cast<std::size_t>(b)].edges, steps_per_band + 1);
  return grid;
}

/// Integral over linear frequency of a density in each band, by Simpson's rule over ln f.
Array integrals(const BandGrid& grid, const Array& density) {
  const auto count = static_cast<Eigen::Index>(grid.bands.size());
  Array result = Array::Zero(count);
  for (Eigen::Index b = 0; b < count; ++b) {
    const Eigen::Index first = b * (steps_per_band + 1);
    const Band& edges = grid.bands[static_cast<std::size_t>(b)].edges;
    const double step = std::log(edges.high_hz / edges.low_hz) / steps_per_band;
    for (Eigen::Index i = 0; i <= steps_per_band; ++i) {
      const double weight = i == 0 || i == steps_per_band ? 1 : (i % 2 == 1 ? 4 : 2);
      result[b] += step / 3 * weight * density[first + i] * grid.hz[first + i];
    }
  }
  return result;
}

// ---- the source --------------------------------------------------------------------------------

void check(const HissOptions& options) {
  if (options.control_db && !(*options.control_db <= 0 && std::isfinite(*options.control_db)))
    throw InputError("a volume control at " + number_text(*options.control_db) + " dB amplifies",
                     "give 0 or less, such as -20");
  if (options.ambient_dba && !(std::abs(*options.ambient_dba) <= 200))
    throw InputError("surroundings of " + number_text(*options.ambient_dba) + " dB(A) do not exist",
                     "give dB(A), such as 40 for a quiet room");
  if (!(options.pad_db > 0 && options.pad_db <= 100))
    throw InputError("a pad of " + number_text(options.pad_db) + " dB is not allowed",
                     "give more than 0 and at most 100 dB");
}

Band known_noise(const HissOptions& options) {
  if (!options.spectrum) return audible_band;
  const Array& hz = options.spectrum->hz;
  return {hz[0], hz[hz.size() - 1]};
}

/// Squared density of the source's e.m.f., V^2 per Hz.
Array source_density(const Chain& chain, const HissOptions& options, const Array& hz) {
  const double control = power_from_db(options.control_db.value_or(0));
  if (options.spectrum)
    return control * LogInterpolator(options.spectrum->hz, options.spectrum->volt_per_root_hz)
                         .at(hz)
                         .square();
  const Source& source = chain.source();
  if (!source.noise_volt && chain.file().empty())
    throw InputError(
        "a plain resistance or curve says nothing of noise (" + printable(chain.title()) + ")",
        "give a chain file with noise_volt in [source]");
  if (!source.noise_volt)
    throw InputError(Place{chain.file()},
                     printable(chain.title()) +
                         ": the key `noise_volt` is missing from [source], and without the "
                         "amplifier's own noise nothing can be said of hiss",
                     "write its rms noise at the open output, with noise_weighting");
  const double flat =
      flat_density(*source.noise_volt, source.noise_weighting, source.noise_corner_hz);
  return control * flat * flat * (1 + source.noise_corner_hz / hz);
}

// ---- the parts ---------------------------------------------------------------------------------

/// Squared density at the earphone's terminals of each part that makes noise.
struct Contribution {
  std::string name;
  Array density;
};

/// The thermal noise of each stage, open at the terminals.
std::vector<Contribution> stage_noise(const Chain& chain, const Array& hz, double kelvin,
                                      std::vector<std::string>& warnings) {
  std::vector<Contribution> stages;
  for (std::size_t i = 0; i < chain.stages().size(); ++i)
    stages.push_back({stage_label(i, chain.stages()[i]), Array::Zero(hz.size())});
  if (stages.empty()) return stages;
  const ThermalNoise noise = thermal_noise(Circuit(chain_circuit(chain)), hz, "earphone", kelvin);
  warnings.insert(warnings.end(), noise.warnings.begin(), noise.warnings.end());
  for (const auto& part : noise.parts)
    for (auto& stage : stages)
      if (part.part.rfind(stage.name + ".", 0) == 0)
        stage.density += part.volt_per_root_hz.square();
  return stages;
}

struct EarNoise {
  std::vector<Contribution> parts;  ///< density at the ear: squared SPL pressure re 20 uPa, per Hz
  Array total;
};

EarNoise ear_noise(const Chain& chain, const Earphone& earphone, const HissOptions& options,
                   const Array& hz, std::vector<std::string>& warnings) {
  const ChainDrive driven = drive(chain, earphone, hz);
  const Array ear = power_from_db(level_db_per_volt(earphone, hz));
  const Array loaded = (driven.load_ohm / (driven.load_ohm + driven.output_ohm)).abs2();
  EarNoise noise;
  noise.parts.push_back(
      {"source", source_density(chain, options, hz) * ear * driven.terminal_volt.square()});
  for (auto& stage : stage_noise(chain, hz, options.kelvin, warnings))
    noise.parts.push_back({stage.name, stage.density * ear * loaded});
  noise.total = Array::Zero(hz.size());
  for (const auto& part : noise.parts) noise.total += part.density;
  return noise;
}

double level_dba(const BandGrid& grid, const Array& density) {
  return db_from_power(integrals(grid, density * power_from_db(a_weighting_db(grid.hz))).sum());
}

// ---- against the ear ---------------------------------------------------------------------------

/// How far a band of noise hides a tone in its middle: critical-band masking, about 4 dB below the
/// noise in the band (2 dB in the bass to 6 dB at the top; E. Zwicker and H. Fastl,
/// Psychoacoustics, from memory).
constexpr double masking_index_db = 4;

/// Level in dB in one third-octave of pink noise of ambient_dba, the same in every band.
double pink_band_db(double ambient_dba) {
  double sum = 0;
  for (const auto& band : third_octaves()) sum += power_from_db(a_weighting_db(band.exact_hz));
  return ambient_dba - db_from_power(sum);
}

Array thresholds(const BandGrid& grid, const Earphone& earphone, const HissOptions& options) {
  Array result(static_cast<Eigen::Index>(grid.bands.size()));
  for (Eigen::Index b = 0; b < result.size(); ++b) {
    const OctaveBand& band = grid.bands[static_cast<std::size_t>(b)];
    // The tables name the bands by their rounded frequencies.
    result[b] = hearing_threshold_db(options.threshold, band.nominal_hz).value_or(unknown);
    if (!options.ambient_dba) continue;
    const double isolated = pink_band_db(*options.ambient_dba) -
                            isolation_db(earphone, Array::Constant(1, band.exact_hz))[0] -
                            masking_index_db;
    result[b] = std::isnan(result[b]) ? unknown : std::max(result[b], isolated);
  }
  return result;
}

void judge(Hiss& result) {
  result.over_threshold_db = -std::numeric_limits<double>::infinity();
  for (Eigen::Index b = 0; b < result.band_hz.size(); ++b) {
    const double over = result.band_db[b] - result.threshold_db[b];
    if (!(over > -std::numeric_limits<double>::infinity())) continue;  // unknown, or no noise
    if (over > 0) result.audible_hz.push_back(result.band_hz[b]);
    if (over <= result.over_threshold_db) continue;
    result.over_threshold_db = over;
    result.over_threshold_hz = result.band_hz[b];
  }
}

Hiss summed(const BandGrid& grid, const EarNoise& noise, const Earphone& earphone,
            const HissOptions& options) {
  Hiss result;
  result.level_dba = level_dba(grid, noise.total);
  result.band_db = 10 * integrals(grid, noise.total).log10();
  result.band_hz.resize(result.band_db.size());
  for (Eigen::Index b = 0; b < result.band_hz.size(); ++b) {
    result.band_hz[b] = grid.bands[static_cast<std::size_t>(b)].exact_hz;
    if (!grid.whole[static_cast<std::size_t>(b)]) result.band_db[b] = unknown;
  }
  result.threshold_db = thresholds(grid, earphone, options);
  for (const auto& part : noise.parts)
    result.parts.push_back({part.name, level_dba(grid, part.density)});
  judge(result);
  return result;
}

/// What the pad is made for: the rated impedance, or |Z| at 1 kHz.
double pad_load_ohm(const Earphone& earphone) {
  if (earphone.rated_ohm) return *earphone.rated_ohm;
  const Band& range = earphone.impedance.range();
  return std::abs(earphone.impedance.at(std::clamp(1000.0, range.low_hz, range.high_hz)));
}

PadEffect pad_effect(const BandGrid& grid, const Chain& chain, const Earphone& earphone,
                     const HissOptions& options) {
  auto stages = chain.stages();
  stages.push_back(matched_pad(PadTopology::L, pad_load_ohm(earphone), options.pad_db));
  std::vector<std::string> said_already;
  const Hiss padded = summed(
      grid,
      ear_noise(chain.with_stages(std::move(stages)), earphone, options, grid.hz, said_already),
      earphone, options);
  return {options.pad_db, padded.level_dba, padded.parts.back().level_dba,
          !padded.audible_hz.empty()};
}

}  // namespace

double flat_density(double noise_volt, NoiseWeighting weighting, double corner_hz) {
  const BandGrid grid = band_grid(audible_band);
  const Array flat = Array::Ones(grid.hz.size());
  const Array weight =
      weighting == NoiseWeighting::a ? power_from_db(a_weighting_db(grid.hz)) : flat;
  // E^2 = e^2 integral of (1 + fc/f) weight: the corner in closed form as S. Franco, Design with
  // Operational Amplifiers, gives it for a flat band.
  return noise_volt / std::sqrt(integrals(grid, weight * (1 + corner_hz / grid.hz)).sum());
}

Hiss hiss(const Chain& chain, const Earphone& of, const HissOptions& options) {
  check(options);
  const Band wanted = overlap(audible_band, known_noise(options));
  const KnownBand known = known_band(chain, of, wanted);
  const BandGrid grid = band_grid(known.band);
  const Earphone earphone = sampled(of, grid.hz);
  std::vector<std::string> warnings = known.cut;
  if (wanted.low_hz > audible_band.low_hz || wanted.high_hz < audible_band.high_hz)
    warnings.push_back("the noise spectrum reaches from " + number_text(wanted.low_hz) + " to " +
                       number_text(wanted.high_hz) + " Hz only; what lies outside is not counted");
  const EarNoise noise = ear_noise(chain, earphone, options, grid.hz, warnings);
  Hiss result = summed(grid, noise, earphone, options);
  if (options.ambient_dba && !earphone.isolation)
    warnings.push_back("the earphone's isolation is not known; the surroundings count in full");
  if ((noise.total > 0).any()) result.pad = pad_effect(grid, chain, earphone, options);
  result.warnings = std::move(warnings);
  return result;
}

}  // namespace ohmtilt
