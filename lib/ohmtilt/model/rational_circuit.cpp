#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/passive_model.h>
#include <ohmtilt/model/rational_circuit.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>

namespace ohmtilt {
namespace {

/// Resistances and inductances in place of lossy inductors, the other parts as they are.
class LossyInductors {
 public:
  LossyInductors(const Circuit& circuit, const Band& band) : band_(band), draft_(circuit.draft()) {
    draft_.parts.clear();
    for (const Part& part : circuit.parts())
      if (part.kind == PartKind::lossy_inductor)
        add_lossy(part);
      else
        draft_.parts.push_back(part);
  }
  Circuit circuit() && { return Circuit(std::move(draft_)); }

 private:
  /// k s^n; the drivers of one earphone often share their n, and then one fit does for all.
  RationalModel power_law(double k, double n) {
    const auto known = unit_power_laws_.find(n);
    if (known != unit_power_laws_.end()) return scaled(known->second, k);
    return scaled(
        unit_power_laws_.emplace(n, lossy_inductor_rational(1, n, band_).model).first->second, k);
  }

  void add_lossy(const Part& part) {
    const RationalModel model = power_law(part.value("k"), part.value("n"));
    double ohm = model.constant;
    for (const RealPole& term : model.real) ohm -= term.residue / term.pole;
    std::string here = part.nodes[0];
    const auto next = [&](const std::string& what, bool last) {
      here = last ? part.nodes[1] : part.name + "." + what + " end";
      return here;
    };
    for (std::size_t i = 0; i < model.real.size(); ++i) {
      const std::string from = here, section = "section " + std::to_string(i + 1);
      const std::string to = next(section, false);
      const double section_ohm = model.real[i].residue / model.real[i].pole;
      draft_.parts.push_back(resistor(part.name + "." + section + " R", from, to, section_ohm));
      draft_.parts.push_back(
          inductor(part.name + "." + section + " L", from, to, -section_ohm / model.real[i].pole));
    }
    const std::string from = here;
    // What rounding leaves of a resistance that is none is no resistance.
    const double floor = 1e-9 * std::abs(model.constant);
    draft_.parts.push_back(inductor(part.name + ".rest", from, next("rest", true),
                                    model.proportional, ohm > floor ? ohm : 0));
  }

  Band band_;
  CircuitDraft draft_;
  std::map<double, RationalModel> unit_power_laws_;  // by n
};

/// Elementary parts in place of each part; of those that are no rational functions, lossy inductors
/// stay.
class Replacement {
 public:
  Replacement(const Circuit& circuit, const Band& band) : band_(band), draft_(circuit.draft()) {
    draft_.parts.clear();
    for (const Part& part : circuit.parts()) {
      tangent_hz_ = first_resonance_hz(part);
      for (const Part& elementary : expanded(part)) add(elementary);
    }
  }

  bool approximated() const { return approximated_; }
  bool has_power_laws() const {
    return std::any_of(draft_.parts.begin(), draft_.parts.end(), [](const Part& part) {
      return part.kind == PartKind::lossy_inductor && part.value("n") < 1;
    });
  }
  Circuit circuit() && { return Circuit(std::move(draft_)); }
  std::vector<std::string> warnings() const { return warnings_; }

 private:
  /// Where a piezo driver's loss tangent holds exactly.
  static double first_resonance_hz(const Part& part) {
    if (part.kind != PartKind::piezo_driver || !part.has("resonance.1.henry")) return 1000;
    return 1 /
           (two_pi * std::sqrt(part.value("resonance.1.henry") * part.value("resonance.1.farad")));
  }

  void add(const Part& part) {
    switch (part.kind) {
      case PartKind::coupled_inductors:
        return add_coupled(part);
      case PartKind::curve:
        return add_curve(part);
      case PartKind::two_port:
        throw InputError("the two-port \"" + printable(part.name, 60) +
                             "\" is known at single frequencies only and has no resonances",
                         "give the circuit behind it, or measure the impedance as a curve");
      case PartKind::capacitor:
        if (part.value_or("loss_tangent", 0) > 0) return add_lossy_capacitor(part);
        break;
      case PartKind::lossy_inductor:
        approximated_ = approximated_ || part.value("n") < 1;
        break;
      default:
        break;
    }
    draft_.parts.push_back(part);
  }

  /// The admittance (1/r) (s/w0)^n is a gyrator of r on a lossy inductor r (s/w0)^n.
  void add_lossy_capacitor(const Part& part) {
    const double tangent = part.value("loss_tangent"), w0 = two_pi * tangent_hz_;
    const double n = 1 - 2 / std::numbers::pi * std::atan(tangent);
    const double ohm = 1 / (w0 * part.value("farad") * std::sqrt(1 + tangent * tangent));
    approximated_ = true;
    warnings_.push_back("the loss tangent of " + printable(part.name, 60) +
                        " holds at all frequencies in no passive circuit; here it is exact at " +
                        hz_text(tangent_hz_));
    std::string a = part.nodes[0];
    const std::string &b = part.nodes[1], dual = part.name + ".dual";
    if (part.value_or("series_ohm", 0) > 0) {
      add_elementary(
          resistor(part.name + ".series", a, part.name + ".inner", part.value("series_ohm")));
      a = part.name + ".inner";
    }
    add_elementary(
        four_terminal(PartKind::gyrator, part.name + ".gyrator", {a, b, dual, b}, {{"ohm", ohm}}));
    add_elementary(lossy_inductor(dual, dual, b, ohm / std::pow(w0, n), n));
  }

  /// L1 = (1 - k^2) L1 + k^2 L1; across the latter an ideal transformer of ratio k sqrt(L1/L2).
  void add_coupled(const Part& part) {
    const double first = part.value("henry"), second = part.value("second_henry");
    const double k = part.value("coupling");
    const auto& [a, b, c, d] = std::tie(part.nodes[0], part.nodes[1], part.nodes[2], part.nodes[3]);
    if (k == 0) {
      add_elementary(inductor(part.name + ".first", a, b, first));
      return add_elementary(inductor(part.name + ".second", c, d, second));
    }
    const std::string inner = part.name + ".inner";
    add_elementary(inductor(part.name + ".leakage", a, inner, (1 - k * k) * first));
    add_elementary(inductor(part.name + ".common", inner, b, k * k * first));
    add_elementary(four_terminal(PartKind::transformer, part.name + ".windings", {inner, b, c, d},
                                 {{"ratio", k * std::sqrt(first / second)}}));
  }

  void add_curve(const Part& part) {
    const Array hz = log_grid(overlap(band_, part.curve->range()), 240);
    const ComplexArray ohm = part.curve->at(hz);
    approximated_ = true;
    // A constant resistance needs no fit.
    if ((ohm - ohm[0]).abs().maxCoeff() <= 1e-12 * std::abs(ohm[0]) && ohm[0].imag() == 0)
      return add_elementary(resistor(part.name, part.nodes[0], part.nodes[1], ohm[0].real()));
    const auto fit = fit_passive_model(ImpedanceCurve({}, hz, ohm.abs(), ohm.arg() / degree));
    append(draft_, circuit_of(fit.model, "fit"), part.name + ".",
           {{"tip", part.nodes[0]}, {"sleeve", part.nodes[1]}});
  }

  void add_elementary(Part part) { draft_.parts.push_back(std::move(part)); }

  Band band_;
  CircuitDraft draft_;
  bool approximated_ = false;
  double tangent_hz_ = 1000;
  std::vector<std::string> warnings_;
};

}  // namespace

RationalCircuit rational_circuit(const Circuit& circuit, const Band& band) {
  Replacement replacement(circuit, band);
  RationalCircuit result{circuit, replacement.approximated(), std::nullopt, replacement.warnings()};
  const bool has_power_laws = replacement.has_power_laws();
  Circuit replaced = std::move(replacement).circuit();
  result.circuit = LossyInductors(replaced, band).circuit();
  if (has_power_laws) result.power_laws = std::move(replaced);
  return result;
}

double model_error_percent(const RationalModel& model, const Circuit& circuit, const Band& band,
                           std::string_view port) {
  const Array hz = log_grid(known_band(circuit, band), 120);
  const ComplexArray exact = driving_point(circuit, hz, port);
  return 100 * ((evaluate(model, hz) - exact).abs() / exact.abs()).maxCoeff();
}

}  // namespace ohmtilt
