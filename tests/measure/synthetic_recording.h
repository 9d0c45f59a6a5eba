#pragma once
// Recordings of invented earphones by chance, with one fault each or none: what `acquire` says of
// them is held against what was done to them.
#include <ohmtilt/base/fourier.h>
#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/error.h>
#include <tests/support.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <memory>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "tests/measure/random_earphone.h"

namespace ohmtilt::test {

using Samples = std::vector<double>;
using Response = std::function<Complex(double)>;

/// Both channels of a recording.
struct Stereo {
  Samples first, second;
};

/// What was done to a recording, the kinds of finding that name it, and how.
struct Fault {
  std::string name;
  std::vector<std::string> kinds;
  std::function<void(Stereo&, std::mt19937_64&)> spoil = nullptr;
  std::function<void(AcquireFiles&, AcquireOptions&)> mistake = nullptr;
  bool calibrate_same = true;  ///< one signal on both channels is recorded too, without the fault
  bool three_terms = false;    ///< open, short and known as well
  /// false: an earphone of flat impedance hides it (a gain that stays constant is none of the
  /// ratio's business), so that it is counted by the benchmark and not demanded.
  bool always_seen = true;
  double gain_apart = 0.03;  ///< of the channels, at most
  /// After the noise was added.
  std::function<void(Stereo&)> convert = nullptr;
  bool calibrate_short = false;    ///< without the fault
  bool calibrate_again = false;    ///< one signal on both channels once more, with the fault
  bool spoilt_throughout = false;  ///< the fault was there in all calibrations
};

inline double peak_of(const Samples& x) {
  double peak = 0;
  for (const double v : x) peak = std::max(peak, std::abs(v));
  return peak;
}
inline void clip(Samples& x, double below_db) {
  const double limit = peak_of(x) * std::pow(10, -below_db / 20);
  for (double& v : x) v = std::clamp(v, -limit, limit);
}
inline void scale(Samples& x, double factor) {
  for (double& v : x) v *= factor;
}
/// tanh limiting of the channel's own peak at `drive` times its knee.
inline void limit_softly(Samples& x, double drive) {
  const double knee = peak_of(x) / drive;
  for (double& v : x) v = knee * std::tanh(v / knee);
}
/// A third harmonic of this share of a sine at the channel's peak.
inline void add_third(Samples& x, double share) {
  const double peak = peak_of(x);
  for (double& v : x) v -= 4 * share * v * std::pow(v / peak, 2);
}
inline void delay(Samples& x, std::ptrdiff_t frames) {
  std::rotate(x.rbegin(), x.rbegin() + frames, x.rend());
}
/// Automatic gain: toward a level, by its own envelope, with attack and release in seconds.
inline void control_gain(Samples& x, double rate_hz, double strength) {
  double envelope = 0.3 * peak_of(x);
  const double aim = envelope;
  for (double& v : x) {
    const double size = std::abs(v);
    const double seconds = size > envelope ? 0.02 : 0.6;
    envelope += (size - envelope) / (seconds * rate_hz);
    v *= std::pow(aim / std::max(envelope, 0.02 * aim), strength);
  }
}
/// A gain that goes evenly from 1 to `last`.
inline void drift_gain(Samples& x, double last) {
  const auto n = static_cast<double>(x.size());
  for (std::size_t i = 0; i < x.size(); ++i) x[i] *= std::pow(last, static_cast<double>(i) / n);
}
/// Whole steps of so many bits, without dither.
inline void round_to_bits(Samples& x, int bits) {
  for (double& v : x) v = std::ldexp(std::round(std::ldexp(v, bits - 1)), 1 - bits);
}
inline void lose(Stereo& pair, std::ptrdiff_t at, std::ptrdiff_t frames) {
  for (Samples* x : {&pair.first, &pair.second})
    x->erase(x->begin() + at, x->begin() + at + frames);
}

/// Lossy coding in outline: a modified cosine transform of 1024 lines under a sine window, each
/// band of 16 lines rounded to a step of `coarse` of its own largest line, nothing above top_hz.
inline void code(Samples& x, double rate_hz, double coarse, double top_hz) {
  constexpr Eigen::Index lines = 1024, frame = 2 * lines, band = 16;
  const double shift = 0.5 + lines / 2.0;
  const Array place = Array::LinSpaced(frame, 0, frame - 1);
  const Array window = (pi * (place + 0.5) / frame).sin();
  const auto turns = [](const Array& angle) {
    ComplexArray result(angle.size());
    for (Eigen::Index i = 0; i < angle.size(); ++i) result[i] = std::polar(1.0, angle[i]);
    return result;
  };
  const ComplexArray by_time = turns(pi * place / frame);
  const ComplexArray by_line = turns(pi * (place.head(lines) + 0.5) * shift / lines);
  const auto n = static_cast<Eigen::Index>(x.size());
  Array padded = Array::Zero(n + frame), out = padded;
  padded.head(n) = Eigen::Map<const Array>(x.data(), n);
  Fourier fourier(frame);
  for (Eigen::Index start = 0; start + frame <= padded.size(); start += lines) {
    const ComplexArray in = padded.segment(start, frame) * window * by_time.conjugate();
    Array line = (fourier.forward(in).head(lines) * by_line.conjugate()).real();
    for (Eigen::Index k = 0; k < lines; k += band) {
      const double step = coarse * std::max(1e-6, line.segment(k, band).abs().maxCoeff());
      line.segment(k, band) = (line.segment(k, band) / step).round() * step;
    }
    line *= ((place.head(lines) + 0.5) * rate_hz / frame <= top_hz).cast<double>();
    ComplexArray back = ComplexArray::Zero(frame);
    back.head(lines) = line * by_line;
    out.segment(start, frame) += 4.0 * (fourier.inverse(back) * by_time).real() * window;
  }
  Eigen::Map<Array>(x.data(), n) = out.head(n);
}

/// What is played, and whether `acquire` is told of it.
struct Measuring {
  StimulusKind kind = StimulusKind::sweep;
  double seconds = 5;
  bool told = true;
};

/// A set-up by chance: the earphone, a reference near it, the source, the level, the latency.
class SyntheticBench {
 public:
  SyntheticBench(unsigned seed, const Measuring& how)
      : chance_(seed), earphone_(seed), told_(how.told) {
    StimulusOptions o;
    o.kind = how.kind;
    o.seconds = how.seconds;
    o.test_tones = how.told;
    sound_ = stimulus_samples(o);
    reference_ohm_ = std::vector<double>{4.7, 10, 22, 47}[seed % 4];
    source_ohm_ = even(0.1, 10);
    loud_ = std::pow(10, even(-30, -2) / 20) / 0.0316;
    noise_ = std::pow(10, even(-105, -85) / 20);
    hum_ = seed % 3 == 0 ? std::pow(10, even(-80, -65) / 20) : 0;
    gain_apart_ = even(-1, 1);
    latency_ = even(0.01, 0.4);
  }

  double reference_ohm() const { return reference_ohm_; }
  ComplexArray truth(const Array& hz) const { return earphone_.impedance(hz); }

  /// What `acquire` makes of it, or the message with which it refuses.
  struct Outcome {
    std::vector<std::string> kinds;
    std::string refusal;
    double error = 0;   ///< rms of |Z| relative
    double inside = 0;  ///< share of the frequencies whose |Z| lies within two uncertainties
  };
  Outcome acquired(const Fault& fault) {
    const Scratch scratch;
    gain_ = 1 + fault.gain_apart * gain_apart_;
    AcquireFiles files;
    AcquireOptions options;
    options.impedance.reference_ohm = reference_ohm_;
    options.transfer.per_octave = 24;
    write_wav(scratch / "stimulus.wav", {sound_, 48000}, false);
    if (told_) files.stimulus = scratch / "stimulus.wav";
    // A short has what leads and contacts add to the earphone, too.
    const double leads_ohm = fault.calibrate_short || fault.three_terms ? 0.05 : 0;
    files.recording = write(scratch / "take.wav", &fault, [this, leads_ohm](double hz) {
      return earphone_.impedance(hz) + leads_ohm;
    });
    const auto calibrate = [&](const char* name, const Response& z) {
      return write(scratch / name, fault.spoilt_throughout ? &fault : nullptr, z);
    };
    if (fault.calibrate_same) files.same = calibrate("same.wav", nullptr);
    if (fault.calibrate_short)
      files.short_ = calibrate("short.wav", [leads_ohm](double) { return Complex(leads_ohm); });
    if (fault.calibrate_again) files.again = write(scratch / "again.wav", &fault, nullptr);
    if (fault.three_terms) {
      files.open = calibrate("open.wav", [](double) { return Complex(1e9); });
      files.short_ = calibrate("short.wav", [leads_ohm](double) { return Complex(leads_ohm); });
      files.known = calibrate("known.wav", [leads_ohm](double) { return Complex(15 + leads_ohm); });
      options.known_ohm = 15;
      options.known_tolerance_percent = 1;
    }
    if (fault.mistake) fault.mistake(files, options);
    return judged(files, options);
  }

 private:
  double even(double low, double high) {
    return std::uniform_real_distribution<double>(low, high)(chance_);
  }

  Outcome judged(const AcquireFiles& files, const AcquireOptions& options) const {
    Outcome outcome;
    try {
      const Acquired got = acquire_impedance(files, options);
      for (const RecordingFinding& finding : got.findings) outcome.kinds.push_back(finding.kind);
      const Array z = truth(got.curve.frequency_hz()).abs();
      const Array away = (got.curve.magnitude_ohm() - z).abs();
      outcome.error = std::sqrt((away / z).square().mean());
      outcome.inside = (away <= 2 * got.curve.uncertainty_ohm()).cast<double>().mean();
    } catch (const InputError& error) {
      outcome.refusal = error.what();
    }
    return outcome;
  }

  /// The sound's spectrum, padded by a second or more.
  const ComplexArray& sound_spectrum() {
    if (spectrum_.size() > 0) return spectrum_;
    const auto n = power_of_two_from(static_cast<Eigen::Index>(sound_.size()) + 36000);
    Fourier fourier(n);
    ComplexArray x = ComplexArray::Zero(n);
    for (std::size_t i = 0; i < sound_.size(); ++i) x[static_cast<Eigen::Index>(i)] = sound_[i];
    return spectrum_ = fourier.forward(x);
  }

  /// The sound through two responses, late by the latency, and half a second more.
  Stereo through(const Response& first, const Response& second) {
    const ComplexArray& sound = sound_spectrum();
    const Eigen::Index n = sound.size();
    ComplexArray one = ComplexArray::Zero(n), other = one;
    for (Eigen::Index k = 1; k < n / 2; ++k) {
      const double hz = static_cast<double>(k) * 48000 / static_cast<double>(n);
      const Complex late = sound[k] * std::polar(1.0, -2 * std::numbers::pi * hz * latency_);
      one[k] = late * first(hz);
      other[k] = late * second(hz);
    }
    // Both channels are real: one transform does for two.
    ComplexArray both = one + j * other;
    for (Eigen::Index k = 1; k < n / 2; ++k)
      both[n - k] = std::conj(one[k]) + j * std::conj(other[k]);
    Fourier fourier(n);
    const ComplexArray y = fourier.inverse(both);
    Stereo pair{Samples(sound_.size() + 24000), Samples(sound_.size() + 24000)};
    for (std::size_t i = 0; i < pair.first.size(); ++i) {
      pair.first[i] = loud_ * y[static_cast<Eigen::Index>(i)].real();
      pair.second[i] = loud_ * y[static_cast<Eigen::Index>(i)].imag();
    }
    return pair;
  }

  /// A response that is asked often, by straight lines over ln f between 6000 places.
  static Response tabled(const Response& response) {
    constexpr double low_hz = 0.02, places = 6000;
    const double step = std::log(24000 / low_hz) / (places - 1);
    auto values = std::make_shared<std::vector<Complex>>();
    for (int i = 0; i <= places; ++i) values->push_back(response(low_hz * std::exp(i * step)));
    return [values, step](double hz) {
      const double place = std::log(hz / low_hz) / step;
      const auto i = static_cast<std::size_t>(place);
      const double part = place - static_cast<double>(i);
      return (*values)[i] * (1 - part) + (*values)[i + 1] * part;
    };
  }

  /// z empty: one signal on both channels.
  std::filesystem::path write(const std::filesystem::path& file, const Fault* fault,
                              const Response& z) {
    const auto coupled = [](double hz) { return Complex(hz) / Complex(hz, 3); };
    const auto first = tabled([&](double hz) {
      if (!z) return coupled(hz);
      const Complex load = z(hz) + reference_ohm_;
      return coupled(hz) * load / (load + source_ohm_);
    });
    const auto second = tabled([&](double hz) {
      if (!z) return coupled(hz) * gain_;
      const Complex load = z(hz) + reference_ohm_;
      return coupled(hz) * z(hz) / (load + source_ohm_) * gain_;
    });
    Stereo pair = through(first, second);
    if (fault && fault->spoil) fault->spoil(pair, chance_);
    add_noise(pair);
    if (fault && fault->convert) fault->convert(pair);
    WavContent content{{}, 48000, 2};
    for (std::size_t i = 0; i < pair.first.size(); ++i)
      content.samples.insert(content.samples.end(), {static_cast<float>(pair.first[i]),
                                                     static_cast<float>(pair.second[i])});
    write_wav(file, content, false);
    return file;
  }

  void add_noise(Stereo& pair) {
    std::normal_distribution<double> normal(0, noise_);
    const double phase = even(0, 6);
    for (std::size_t i = 0; i < pair.first.size(); ++i) {
      const double turn = 2 * std::numbers::pi * static_cast<double>(i) / 48000;
      const double hum = hum_ * (std::sin(50.01 * turn + phase) + 0.4 * std::sin(150.03 * turn));
      pair.first[i] += normal(chance_) + hum;
      pair.second[i] += normal(chance_) + 1.5 * hum;
    }
  }

  std::mt19937_64 chance_;
  RandomEarphone earphone_;
  std::vector<float> sound_;
  ComplexArray spectrum_;
  double reference_ohm_, source_ohm_, loud_, noise_, hum_, gain_apart_, gain_ = 1, latency_;
  bool told_;
};

inline double drawn(std::mt19937_64& chance, double low, double high) {
  return std::uniform_real_distribution<double>(low, high)(chance);
}

/// A fault that some earphones or stimuli hide.
inline Fault unseen(std::string name, std::vector<std::string> kinds,
                    std::function<void(Stereo&, std::mt19937_64&)> spoil) {
  return {std::move(name), std::move(kinds), std::move(spoil), nullptr, true, false, false};
}

/// Recordings without a fault, as many ways as there are to make them.
inline std::vector<Fault> clean_recordings() {
  std::vector<Fault> clean{
      {"none", {}},          {"none, not calibrated", {}}, {"none, three terms", {}},
      {"none, 16 bits", {}}, {"none, with a short", {}},   {"none, same again", {}}};
  clean[1].calibrate_same = false;
  clean[1].gain_apart = 0.01;  // as assumed
  clean[2].three_terms = true;
  clean[3].convert = [](Stereo& p) {
    round_to_bits(p.first, 16);
    round_to_bits(p.second, 16);
  };
  clean[4].calibrate_short = true;
  clean[5].calibrate_again = true;
  return clean;
}

/// One channel's gain moved by 2 dB between calibration and measurement, with what else was
/// recorded.
inline std::vector<Fault> moved_gains(const std::string& with, bool with_short, bool with_again) {
  std::vector<Fault> all;
  for (const auto& [channel, factor] :
       {std::pair{1, 1.2589}, {1, 1 / 1.2589}, {2, 1.2589}, {2, 1 / 1.2589}}) {
    // A ratio that became larger may be larger than any load's.
    const std::vector<std::string> kinds =
        (channel == 2) == (factor > 1)
            ? std::vector<std::string>{"gain-changed", "gain", "swapped", "active"}
            : std::vector<std::string>{"gain-changed"};
    all.push_back(unseen("gain of channel " + std::to_string(channel) +
                             (factor > 1 ? " +2 dB since" : " -2 dB since") + with,
                         kinds, [channel = channel, factor = factor](Stereo& p, std::mt19937_64&) {
                           scale(channel == 1 ? p.first : p.second, factor);
                         }));
    all.back().always_seen = with_again || (with_short && channel == 1);
    all.back().calibrate_short = with_short;
    all.back().calibrate_again = with_again;
  }
  return all;
}

/// Automatic gain of either channel by its own level.
inline Fault automatic_gain(bool throughout) {
  Fault fault = unseen(throughout ? "automatic gain, throughout" : "automatic gain, each channel",
                       {"automatic-gain", "uneven", "inconsistent", "distortion", "gain-changed"},
                       [throughout](Stereo& p, std::mt19937_64& c) {
                         const double strength = throughout ? 0.6 : drawn(c, 0.4, 0.8);
                         control_gain(p.first, 48000, strength);
                         control_gain(p.second, 48000, strength);
                       });
  fault.spoilt_throughout = throughout;
  fault.always_seen = true;
  return fault;
}

inline std::vector<Fault> single_faults();

/// Every fault that is looked for. Sweeps only where a sweep is needed to see it.
inline std::vector<Fault> recording_faults() {
  std::vector<Fault> all = single_faults();
  for (const bool throughout : {false, true}) all.push_back(automatic_gain(throughout));
  for (const auto& some :
       {moved_gains("", false, false), moved_gains(", with a short", true, false),
        moved_gains(", same again", false, true)})
    all.insert(all.end(), some.begin(), some.end());
  return all;
}

inline std::vector<Fault> single_faults() {
  using Chance = std::mt19937_64;
  const auto clipped = [](double db) {
    return [db](Stereo& p, Chance& c) {
      Samples& x = c() % 2 ? p.first : p.second;
      clip(x, db);
      scale(x, std::pow(10, db / 20));  // normalised afterwards
    };
  };
  return {
      {"clipped by 1 dB, normalised", {"clipping", "distortion"}, clipped(1)},
      {"clipped by 3 dB, normalised", {"clipping", "distortion"}, clipped(3)},
      {"clipped by 6 dB, normalised", {"clipping", "distortion"}, clipped(6)},
      {"both clipped below full scale",
       {"clipping", "distortion"},
       [](Stereo& p, Chance&) {
         const double limit = 0.4 * peak_of(p.first);
         for (Samples* x : {&p.first, &p.second})
           for (double& v : *x) v = std::clamp(v, -limit, limit);
       }},
      {"soft limiting",
       {"distortion"},
       [](Stereo& p, Chance& c) {
         limit_softly(c() % 2 ? p.first : p.second, drawn(c, 0.5, 1.5));
       }},
      {"third harmonic of 1 %",
       {"distortion"},
       [](Stereo& p, Chance&) { add_third(p.second, 0.01); }},
      {"one sample late", {"delay"}, [](Stereo& p, Chance&) { delay(p.second, 1); }},
      {"one sample early", {"delay"}, [](Stereo& p, Chance&) { delay(p.first, 1); }},
      {"inverted", {"inverted"}, [](Stereo& p, Chance&) { scale(p.second, -1); }},
      {"+12 dB",
       {"gain", "swapped", "gain-changed", "active"},
       [](Stereo& p, Chance&) { scale(p.first, 0.25); }},
      {"swapped", {"swapped"}, [](Stereo& p, Chance&) { std::swap(p.first, p.second); }},
      {"300 samples lost",
       {"lost-samples"},
       [](Stereo& p, Chance& c) {
         lose(p, static_cast<std::ptrdiff_t>(drawn(c, 3.2, 4.5) * 48000), 300);
       }},
      {"coded, up to 16 kHz",
       {"band-limited", "coded", "inconsistent", "uneven"},
       [](Stereo& p, Chance&) {
         code(p.first, 48000, 0.05, 16000);
         code(p.second, 48000, 0.05, 16000);
       }},
      {"coded, full band",
       {"coded", "inconsistent", "uneven"},
       [](Stereo& p, Chance&) {
         code(p.first, 48000, 0.05, 24000);
         code(p.second, 48000, 0.05, 24000);
       }},
      unseen("gain of channel 2 drifts by 1 dB", {"halves", "inconsistent"},
             [](Stereo& p, Chance&) { drift_gain(p.second, 1.122); }),
      {"open and short exchanged",
       {"exchanged"},
       nullptr,
       [](AcquireFiles& f, AcquireOptions&) { std::swap(f.open, f.short_); },
       true,
       true},
      {"known typed tenfold",
       {"known-disagrees"},
       nullptr,
       [](AcquireFiles&, AcquireOptions& o) { o.known_ohm *= 10; },
       true,
       true},
      {"reference typed tenfold",
       {"known-disagrees"},
       nullptr,
       [](AcquireFiles&, AcquireOptions& o) { o.impedance.reference_ohm *= 10; },
       true,
       true},
  };
}

/// Whether an outcome names the fault: one of its kinds, or a refusal for it.
inline bool names(const SyntheticBench::Outcome& outcome, const Fault& fault) {
  static const std::vector<std::pair<std::string, std::string>> words{
      {"clipping", "clipped"},
      {"distortion", "distorts"},
      {"delay", "microseconds"},
      {"inverted", "is inverted"},
      {"gain", "gain"},
      {"swapped", "swapped"},
      {"exchanged", "exchanged"},
      {"known-disagrees", "check both values"},
      {"known-disagrees", "known resistor"}};
  for (const std::string& kind : fault.kinds) {
    if (std::count(outcome.kinds.begin(), outcome.kinds.end(), kind) > 0) return true;
    for (const auto& [of, word] : words)
      if (of == kind && outcome.refusal.find(word) != std::string::npos) return true;
  }
  return false;
}

}  // namespace ohmtilt::test
