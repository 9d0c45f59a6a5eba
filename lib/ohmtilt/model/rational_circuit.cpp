#include <ohmtilt/base/decibel.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/passive_model.h>
#include <ohmtilt/model/rational_circuit.h>
#include <ohmtilt/text/text.h>

#include <cmath>
#include <map>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;

/// Collects the elementary parts that stand for one part after the other.
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
      case PartKind::lossy_inductor:
        return add_lossy(part);
      case PartKind::coupled_inductors:
        return add_coupled(part);
      case PartKind::curve:
        return add_curve(part);
      case PartKind::capacitor:
        if (part.value_or("loss_tangent", 0) > 0) return add_lossy_capacitor(part);
        [[fallthrough]];
      default:
        draft_.parts.push_back(part);
    }
  }

  /// k s^n; the drivers of one earphone often share their n, and then one fit does for all.
  RationalModel power_law(double k, double n) {
    const auto known = unit_power_laws_.find(n);
    if (known != unit_power_laws_.end()) return scaled(known->second, k);
    return scaled(
        unit_power_laws_.emplace(n, lossy_inductor_rational(1, n, band_).model).first->second, k);
  }

  void add_lossy(const Part& part) {
    const double k = part.value("k"), n = part.value("n");
    const RationalModel model = power_law(k, n);
    approximated_ = approximated_ || n < 1;
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
      add_elementary(resistor(part.name + "." + section + " R", from, to, section_ohm));
      add_elementary(
          inductor(part.name + "." + section + " L", from, to, -section_ohm / model.real[i].pole));
    }
    const std::string from = here;
    // What rounding leaves of a resistance that is none is no resistance.
    const double floor = 1e-9 * std::abs(model.constant);
    add_elementary(inductor(part.name + ".rest", from, next("rest", true), model.proportional,
                            ohm > floor ? ohm : 0));
  }

  /// The dual: conductances with capacitors, in parallel.
  void add_lossy_capacitor(const Part& part) {
    const double tangent = part.value("loss_tangent"), w0 = two_pi * tangent_hz_;
    const double n = 1 - 2 / std::numbers::pi * std::atan(tangent);
    const double siemens = w0 * part.value("farad") * std::sqrt(1 + tangent * tangent);
    const RationalModel model = power_law(siemens / std::pow(w0, n), n);
    approximated_ = true;
    warnings_.push_back("the loss tangent of " + printable(part.name, 60) +
                        " holds at all frequencies in no passive circuit; here it is exact at " +
                        std::to_string(std::lround(tangent_hz_)) + " Hz");
    std::string a = part.nodes[0];
    const std::string& b = part.nodes[1];
    if (part.value_or("series_ohm", 0) > 0) {
      add_elementary(
          resistor(part.name + ".series", a, part.name + ".inner", part.value("series_ohm")));
      a = part.name + ".inner";
    }
    double rest = model.constant;
    for (std::size_t i = 0; i < model.real.size(); ++i) {
      const double section = model.real[i].residue / model.real[i].pole;
      rest -= section;
      add_elementary(capacitor(part.name + ".section " + std::to_string(i + 1), a, b,
                               -section / model.real[i].pole, 1 / section));
    }
    add_elementary(capacitor(part.name + ".rest", a, b, model.proportional));
    if (rest > 1e-9 * std::abs(model.constant))
      add_elementary(resistor(part.name + ".leak", a, b, 1 / rest));
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
    splice_lossy_parts();
  }

  /// A fitted model has lossy inductors of its own.
  void splice_lossy_parts() {
    std::vector<Part> parts;
    parts.swap(draft_.parts);
    for (const Part& part : parts) add(part);
  }

  void add_elementary(Part part) { draft_.parts.push_back(std::move(part)); }

  Band band_;
  CircuitDraft draft_;
  std::map<double, RationalModel> unit_power_laws_;  // by n
  bool approximated_ = false;
  double tangent_hz_ = 1000;
  std::vector<std::string> warnings_;
};

Band reach(const Circuit& circuit, Band band) {
  for (const Part& part : circuit.parts())
    if (part.curve) band = overlap(band, part.curve->range());
  return band;
}

}  // namespace

RationalCircuit rational_circuit(const Circuit& circuit, const Band& band) {
  Replacement replacement(circuit, band);
  const bool approximated = replacement.approximated();
  auto warnings = replacement.warnings();
  return {std::move(replacement).circuit(), approximated, std::move(warnings)};
}

double model_error_percent(const RationalModel& model, const Circuit& circuit, const Band& band,
                           std::string_view port) {
  const Array hz = log_grid(reach(circuit, band), 120);
  const ComplexArray exact = driving_point(circuit, hz, port);
  return 100 * ((evaluate(model, hz) - exact).abs() / exact.abs()).maxCoeff();
}

}  // namespace ohmtilt
