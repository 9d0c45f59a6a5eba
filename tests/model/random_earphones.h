#pragma once
// Circuits of earphones that do not exist: 1 to 5 drivers behind crossovers of first or second
// order, with or without loss.
#include <ohmtilt/circuit/read_circuit.h>

#include <cmath>
#include <cstdint>
#include <random>
#include <sstream>
#include <string>

namespace ohmtilt::test {

class RandomEarphone {
 public:
  explicit RandomEarphone(unsigned seed) : numbers_(seed) {
    lossy_ = chance(0.6);
    drivers_ = 1 + static_cast<int>(numbers_() % 5);
    const bool moving_coil = chance(0.4);
    resistor("cable", "tip", "a", between(0.05, 1.5));
    if (lossy_ && chance(0.5)) capacitor("shunt", "a", "gnd", between(50e-12, 400e-12), 0.01);
    for (int i = 0; i < drivers_; ++i) add_way(i, moving_coil && i == 0);
  }

  /// Of the moving coil; zero where there is none.
  struct MovingCoil {
    double hz = 0, q_mechanical = 0, q_electrical = 0;
  };
  const MovingCoil& moving_coil() const { return moving_coil_; }
  int drivers() const { return drivers_; }
  Circuit circuit() const {
    const std::string head =
        "title = \"Random\"\nreference = \"gnd\"\n[ports]\nterminals = [\"tip\", \"gnd\"]\n";
    return parse_circuit(head + parts_.str(), "random.circuit.toml", ".").value;
  }

 private:
  /// Uniform in the logarithm.
  double between(double low, double high) {
    return low * std::pow(high / low, static_cast<double>(numbers_()) / 4294967296.0);
  }
  bool chance(double share) { return static_cast<double>(numbers_()) / 4294967296.0 < share; }

  void part(const std::string& name, const std::string& kind, const std::string& a,
            const std::string& b) {
    parts_ << "[[part]]\nname = \"" << name << "\"\nkind = \"" << kind << "\"\nnodes = [\"" << a
           << "\", \"" << b << "\"]\n";
  }
  void value(const std::string& key, double number) { parts_ << key << " = " << number << '\n'; }
  void resistor(const std::string& name, const std::string& a, const std::string& b, double ohm) {
    part(name, "resistor", a, b);
    value("ohm", ohm);
  }
  void capacitor(const std::string& name, const std::string& a, const std::string& b, double farad,
                 double tangent) {
    part(name, "capacitor", a, b);
    value("farad", farad);
    if (!lossy_) return;
    value("series_ohm", between(0.02, 0.5));
    value("loss_tangent", tangent);
  }
  void inductor(const std::string& name, const std::string& a, const std::string& b, double henry) {
    part(name, "inductor", a, b);
    value("henry", henry);
    if (lossy_) value("series_ohm", between(0.1, 3));
  }

  void add_moving_coil(const std::string& name, const std::string& node) {
    part(name, "dynamic-driver", node, "gnd");
    value("dc_ohm", between(8, 40));
    moving_coil_ = {between(60, 900), between(0.7, 5), between(0.3, 5)};
    value("resonance_hz", moving_coil_.hz);
    value("q_mechanical", moving_coil_.q_mechanical);
    value("q_electrical", moving_coil_.q_electrical);
    value("coil_k", between(2e-4, 1.5e-3));
    value("coil_n", between(0.55, 0.75));
  }

  void add_armature(const std::string& name, const std::string& node, double from_hz) {
    part(name, "armature-driver", node, "gnd");
    const double ohm = between(9, 80);
    value("dc_ohm", ohm);
    value("coil_henry", ohm * between(5e-6, 3e-5));
    value("coil_k", ohm * between(2e-3, 6e-3));
    const int count = 1 + static_cast<int>(numbers_() % 2);
    double hz = from_hz;
    for (int i = 0; i < count; ++i, hz *= between(1.6, 4)) {
      parts_ << "[[part.resonance]]\n";
      value("hz", hz);
      value("q", between(1.5, 7));
      value("peak_ohm", ohm * between(0.2, 1.5));
    }
  }

  /// A driver behind a crossover: none, first order, or second order.
  void add_way(int i, bool moving_coil) {
    const std::string n = std::to_string(i), in = "x" + n, mid = "m" + n, end = "d" + n;
    const double corner = 500 * std::pow(2.2, i), ohm = 30, w = 6.283185307179586 * corner;
    const bool low_pass = i == 0 && drivers_ > 1;
    const int order = drivers_ == 1 ? 0 : static_cast<int>(numbers_() % 3);
    if (order == 0) {
      resistor("R" + n, "a", end, between(0.5, 30));
    } else if (low_pass) {
      inductor("L" + n, "a", mid, ohm / w * between(0.5, 2));
      if (order == 2) capacitor("C" + n, mid, "gnd", 1 / (ohm * w) * between(0.5, 2), 0.02);
      resistor("R" + n, mid, end, between(0.5, 30));
    } else {
      capacitor("C" + n, "a", in, 1 / (ohm * w) * between(0.5, 2), 0.005);
      if (order == 2) inductor("L" + n, in, "gnd", ohm / w * between(0.5, 2));
      resistor("R" + n, in, end, between(0.5, 30));
    }
    if (moving_coil) return add_moving_coil("driver" + n, end);
    add_armature("driver" + n, end, (i == 0 ? 800 : 1000) * std::pow(1.7, i) * between(0.8, 1.25));
  }

  std::mt19937 numbers_;
  bool lossy_ = false;
  MovingCoil moving_coil_;
  int drivers_ = 1;
  std::ostringstream parts_;
};

}  // namespace ohmtilt::test
