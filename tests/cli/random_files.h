#pragma once
// Earphones and chains at random, as files for the program: own generator, seeded.
#include <cmath>
#include <complex>
#include <numbers>
#include <random>
#include <string>
#include <vector>

#include "tests/support.h"

namespace ohmtilt::test {

/// Writes one earphone and one chain after another into a folder of its own.
class RandomFiles {
 public:
  explicit RandomFiles(unsigned seed) : random_(seed) {}

  double between(double low, double high) {  ///< equally likely in every octave
    return low * std::pow(high / low, std::generate_canonical<double, 53>(random_));
  }
  int below(int count) { return static_cast<int>(random_() % static_cast<unsigned>(count)); }
  bool coin() { return below(2) == 0; }
  static std::string text(double value) { return std::to_string(value); }

  /// A curve of one to three resonances on a resistance and a coil.
  std::string curve(const std::string& name = "e.csv") {
    struct Peak {
      double hz, q, ohm;
    };
    std::vector<Peak> peaks;
    const double dc = between(4, 60), henry = between(1e-5, 1e-3);
    for (int i = 0; i <= below(3); ++i)
      peaks.push_back({between(60, 9000), between(0.8, 8), between(0.5, 60)});
    std::string rows = "# title: random\nfrequency_hz,magnitude_ohm,phase_deg\n";
    for (int i = 0; i <= 60; ++i) {
      const double f = 20 * std::pow(10, i / 20.0);
      std::complex<double> z(dc, 2 * std::numbers::pi * f * henry);
      for (const auto& p : peaks) z += p.ohm / std::complex<double>(1, p.q * (f / p.hz - p.hz / f));
      rows += text(f) + "," + text(std::abs(z)) + "," + text(std::arg(z) * 180 / std::numbers::pi) +
              "\n";
    }
    return scratch_.write(name, rows).string();
  }

  std::string earphone() {
    curve();
    std::string toml = "title = \"random\"\nimpedance = \"e.csv\"\nsensitivity_db_per_volt = " +
                       text(95 + 35 * between(0.01, 1)) + "\n";
    if (coin()) toml += "rated_ohm = " + text(between(8, 64)) + "\n";
    if (coin()) toml += "max_watt = " + text(between(0.001, 0.2)) + "\n";
    return scratch_.write("e.earphone.toml", toml).string();
  }

  /// With all that headroom, hiss and crosstalk ask for.
  std::string chain(const std::string& name = "c.chain.toml") {
    std::string toml = "title = \"chain\"\n[source]\noutput_ohm = " + text(between(0.05, 20)) +
                       "\nopen_volt = " + text(between(0.2, 10)) +
                       "\nmax_ampere = " + text(between(0.01, 1)) +
                       "\nnoise_volt = " + std::string(coin() ? "2e-6" : "2e-5") +
                       "\ninput_volt = " + text(between(0.5, 4)) +
                       "\ngain_db = [0, 9]\nshared_return_ohm = " + text(between(0.01, 2)) +
                       "\n[source.volume]\n" + volume();
    if (coin())
      toml += "[[stage]]\nkind = \"pad\"\ntopology = \"L\"\nseries_ohm = " + text(between(1, 100)) +
              "\nshunt_ohm = " + text(between(1, 100)) + "\n";
    if (coin())
      toml += "[[stage]]\nkind = \"cable\"\nconductor_ohm = " + text(between(0.05, 1)) +
              "\nshared_return_ohm = " + text(between(0.01, 1)) + "\n";
    return scratch_.write(name, toml).string();
  }

  const Scratch& scratch() const { return scratch_; }

 private:
  std::string volume() {
    switch (below(3)) {
      case 0:
        return "law = \"linear-taper\"\n";
      case 1:
        return "law = \"audio-taper\"\n";
      default:
        return "law = \"decibel\"\nstep_db = 0.5\n";
    }
  }

  std::mt19937_64 random_;
  Scratch scratch_;
};

}  // namespace ohmtilt::test
