// What each driver stands for. Dynamic: Small's parallel R-L-C (check: published parameter sets);
// armature: [Kim2013]; piezo: Butterworth and Van Dyke.
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/part_rules.h>

#include <numbers>
#include <utility>

namespace ohmtilt {
namespace {

// A chain of parts in series from the driver's first node to its second.
class Chain {
 public:
  explicit Chain(const Part& driver)
      : driver_(driver), here_(driver.nodes[0]), last_(driver.nodes[1]) {}

  std::string name(const std::string& what) const { return driver_.name + "." + what; }
  const std::string& end() const { return last_; }
  /// The two nodes of the next link; `final` ends at the driver's second node.
  std::pair<std::string, std::string> link(const std::string& what, bool final) {
    std::string from = here_;
    here_ = final ? last_ : name(what + " end");
    return {std::move(from), here_};
  }
  void add(Part part) {
    part.line = driver_.line;
    parts_.push_back(std::move(part));
  }
  std::vector<Part> take() { return std::move(parts_); }

 private:
  const Part& driver_;
  std::string here_, last_;
  std::vector<Part> parts_;
};

struct Tank {
  double ohm, henry, farad;
};

// R / (1 + jQ (f/f0 - f0/f)) as R, L and C in parallel.
Tank tank(double hz, double q, double peak_ohm) {
  const double omega = 2 * std::numbers::pi * hz;
  return {peak_ohm, peak_ohm / (omega * q), q / (omega * peak_ohm)};
}

void add_tank(Chain& chain, const std::string& what, const Tank& t, bool final) {
  const auto [a, b] = chain.link(what, final);
  chain.add(resistor(chain.name(what + " R"), a, b, t.ohm));
  chain.add(inductor(chain.name(what + " L"), a, b, t.henry));
  chain.add(capacitor(chain.name(what + " C"), a, b, t.farad));
}

void add_resistance(Chain& chain, const Part& driver, bool final) {
  const auto [a, b] = chain.link("dc", final);
  chain.add(resistor(chain.name("dc"), a, b, driver.value("dc_ohm")));
}

void add_coil(Chain& chain, double henry, bool final) {
  if (henry == 0) return;
  const auto [a, b] = chain.link("coil", final);
  chain.add(inductor(chain.name("coil"), a, b, henry));
}

void add_lossy_coil(Chain& chain, double k, double n) {
  if (k == 0) return;
  const auto [a, b] = chain.link("lossy coil", false);
  chain.add(lossy_inductor(chain.name("lossy coil"), a, b, k, n));
}

// Force and velocity stand for volt and ampere behind the gyrator: mass is an inductor (kg),
// compliance a capacitor (m/N), loss a resistor (kg/s).
void add_mechanics(Chain& chain, const Part& driver) {
  const auto [a, b] = chain.link("gyrator", true);
  const std::string force = chain.name("force"), mass = chain.name("mass end"),
                    loss = chain.name("loss end");
  chain.add(four_terminal(PartKind::gyrator, chain.name("gyrator"), {a, b, force, chain.end()},
                          {{"ohm", driver.value("force_factor_newton_per_ampere")}}));
  chain.add(inductor(chain.name("mass"), force, mass, 1e-3 * driver.value("moving_gram")));
  chain.add(resistor(chain.name("loss"), mass, loss, driver.value("resistance_kg_per_second")));
  const double stiffness = 1e3 / driver.value("compliance_mm_per_newton") -
                           1e3 * driver.value_or("magnetic_stiffness_newton_per_mm", 0);
  chain.add(capacitor(chain.name("suspension"), loss, chain.end(), 1 / stiffness));
}

std::vector<Part> expanded_dynamic(const Part& driver) {
  Chain chain(driver);
  add_resistance(chain, driver, false);
  add_coil(chain, driver.value_or("coil_henry", 0), false);
  add_lossy_coil(chain, driver.value_or("coil_k", 0), driver.value_or("coil_n", 1));
  if (is_mechanical(driver)) {
    add_mechanics(chain, driver);
  } else {
    const double q = driver.value("q_mechanical");
    const double peak_ohm = driver.value("dc_ohm") * q / driver.value("q_electrical");
    add_tank(chain, "resonance", tank(driver.value("resonance_hz"), q, peak_ohm), true);
  }
  return chain.take();
}

std::vector<Part> expanded_armature(const Part& driver) {
  Chain chain(driver);
  add_resistance(chain, driver, false);
  add_coil(chain, driver.value("coil_henry"), false);
  add_lossy_coil(chain, driver.value("coil_k"), 0.5);
  if (is_mechanical(driver)) add_mechanics(chain, driver);
  const std::size_t count = resonance_count(driver);
  for (std::size_t r = 1; r <= count; ++r) {
    const auto of = [&](const char* key) { return driver.value(resonance_key(r, key)); };
    add_tank(chain, "resonance " + std::to_string(r), tank(of("hz"), of("q"), of("peak_ohm")),
             r == count);
  }
  return chain.take();
}

std::vector<Part> expanded_planar(const Part& driver) {
  Chain chain(driver);
  const double henry = driver.value_or("coil_henry", 0);
  add_resistance(chain, driver, henry == 0);
  add_coil(chain, henry, true);
  return chain.take();
}

std::vector<Part> expanded_piezo(const Part& driver) {
  Chain chain(driver);
  const auto [a, b] = chain.link("static", true);
  Part still = capacitor(chain.name("static"), a, b, driver.value("farad"));
  still.values.push_back({"loss_tangent", driver.value_or("loss_tangent", 0)});
  chain.add(std::move(still));
  for (std::size_t r = 1; r <= resonance_count(driver); ++r) {
    const auto of = [&](const char* key) { return driver.value(resonance_key(r, key)); };
    const std::string branch = chain.name("resonance " + std::to_string(r));
    chain.add(inductor(branch + " L", a, branch + " end", of("henry"), of("ohm")));
    chain.add(capacitor(branch + " C", branch + " end", b, of("farad")));
  }
  return chain.take();
}

}  // namespace

std::vector<Part> expanded(const Part& part) {
  switch (part.kind) {
    case PartKind::dynamic_driver:
      return expanded_dynamic(part);
    case PartKind::armature_driver:
      return expanded_armature(part);
    case PartKind::planar_driver:
      return expanded_planar(part);
    case PartKind::piezo_driver:
      return expanded_piezo(part);
    default:
      return {part};
  }
}

Circuit expanded(const Circuit& circuit) {
  CircuitDraft draft = circuit.draft();
  draft.parts.clear();
  for (const auto& part : circuit.parts())
    for (auto& elementary : expanded(part)) draft.parts.push_back(std::move(elementary));
  return Circuit(std::move(draft));
}

}  // namespace ohmtilt
