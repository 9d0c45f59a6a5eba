#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/hearing/hearing_threshold.h>

namespace ohmtilt {

/// Noise density over frequency, in place of noise_volt. Arrays of equal length >= 2, hz rising.
struct NoiseSpectrum {
  Array hz, volt_per_root_hz;
};

struct HissOptions {
  HearingThreshold threshold = HearingThreshold::insert;
  double kelvin = room_kelvin;
  std::optional<NoiseSpectrum> spectrum;  ///< of the source at its open output
  /// The source's noise is made before the volume control, which stands at this many dB (<= 0);
  /// nothing: it is made behind it and does not move.
  std::optional<double> control_db;
  /// Level of the noise around the listener in dB(A), spread like pink noise; nothing: quiet.
  std::optional<double> ambient_dba;
  double pad_db = 10;  ///< > 0: attenuation of the pad whose effect is told
};

/// One part of the noise at the ear.
struct HissPart {
  std::string name;  ///< "source", "stage 1: pad"
  double level_dba = 0;
};

/// What a pad of pad_db in front of the earphone would change.
struct PadEffect {
  double attenuation_db = 0;
  double level_dba = 0;      ///< of everything, with the pad
  double pad_level_dba = 0;  ///< of the pad's own resistors
  bool audible = false;
};

/// Noise at the ear from 20 Hz to 20 kHz. Arrays have one value a third-octave; a value that is not
/// known is NaN.
struct Hiss {
  double level_dba = 0;
  Array band_hz;                   ///< exact midbands
  Array band_db;                   ///< dB SPL in each band, unweighted
  Array threshold_db;              ///< of hearing, raised by what the surroundings mask
  std::vector<double> audible_hz;  ///< the bands above it
  double over_threshold_db = 0;    ///< the largest band_db - threshold_db; negative: not heard
  double over_threshold_hz = 0;    ///< where
  std::vector<HissPart> parts;     ///< add up in power to level_dba
  std::optional<PadEffect> pad;    ///< nothing where the noise is zero
  std::vector<std::string> warnings;
};

/// Source noise and the thermal noise of every stage, shaped by chain and earphone. The thermal
/// noise of the source's own output is in its stated noise already. A band of noise is compared
/// with the threshold of a tone at its middle, as is common practice. Throws InputError where
/// noise_volt or the sensitivity is missing, and for options out of range.
Hiss hiss(const Chain& chain, const Earphone& earphone, const HissOptions& options = {});

/// Density in V per root Hz at 1 Hz-independent level e0 of a source whose noise is e0 sqrt(1 +
/// corner/f) and whose total over 20 Hz to 20 kHz, weighted or flat, is noise_volt.
double flat_density(double noise_volt, NoiseWeighting weighting, double corner_hz);

}  // namespace ohmtilt
