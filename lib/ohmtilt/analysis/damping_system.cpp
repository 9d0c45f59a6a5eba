#include <ohmtilt/analysis/damping_system.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/passive_fit.h>
#include <ohmtilt/circuit/rational_circuit.h>
#include <ohmtilt/circuit/vector_fitting.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;
constexpr const char* emf = "source.emf";

MovingCoil moving_coil(const Part& driver) {
  MovingCoil coil{driver.name, driver.value("dc_ohm"), 0, 0, 0};
  if (!is_mechanical(driver)) {
    coil.resonance_hz = driver.value("resonance_hz");
    coil.q_mechanical = driver.value("q_mechanical");
    coil.q_electrical = driver.value("q_electrical");
    return coil;
  }
  const double kilogram = 1e-3 * driver.value("moving_gram");
  const double compliance = 1e-3 * driver.value("compliance_mm_per_newton");
  const double force_factor = driver.value("force_factor_newton_per_ampere");
  const double omega = 1 / std::sqrt(kilogram * compliance);
  coil.resonance_hz = omega / two_pi;
  coil.q_mechanical = omega * kilogram / driver.value("resistance_kg_per_second");
  coil.q_electrical = omega * kilogram * coil.dc_ohm / (force_factor * force_factor);
  return coil;
}

std::optional<MovingCoil> first_moving_coil(const Circuit& circuit) {
  for (const Part& part : circuit.parts())
    if (part.kind == PartKind::dynamic_driver) return moving_coil(part);
  return std::nullopt;
}

bool is_motional(const Part& driver, const Part& elementary) {
  return elementary.name.rfind(driver.name + ".resonance", 0) == 0 ||
         elementary.name == driver.name + ".gyrator";
}

std::vector<MotionalPort> motional_ports(const Circuit& circuit) {
  std::vector<MotionalPort> ports;
  for (const Part& driver : circuit.parts()) {
    if (driver.kind != PartKind::dynamic_driver && driver.kind != PartKind::armature_driver)
      continue;
    for (const Part& elementary : expanded(driver)) {
      if (!is_motional(driver, elementary)) continue;
      ports.push_back({driver.name, {driver.name, elementary.nodes[0], driver.nodes[1]}});
      break;
    }
  }
  return ports;
}

DampingEarphone from_circuit(const Earphone& earphone, const Band& band) {
  RationalCircuit rational = rational_circuit(*earphone.circuit, band);
  return {earphone.title,
          std::move(rational.circuit),
          std::move(rational.impedance),
          rational.error_percent,
          {},
          first_moving_coil(*earphone.circuit),
          motional_ports(*earphone.circuit),
          earphone.rated_ohm,
          earphone.impedance.range(),
          rational.warnings};
}

/// |model - data| over |data|; of the magnitudes for a magnitude-only curve.
Array relative_errors(const RationalModel& model, const ImpedanceCurve& curve) {
  const ComplexArray found = evaluate(model, curve.frequency_hz());
  const Array& data = curve.magnitude_ohm();
  const Array off = curve.has_phase() ? Array((found - curve.impedance_ohm()).abs())
                                      : Array((found.abs() - data).abs());
  return off / data;
}

double rms(const Array& values) { return std::sqrt(values.square().mean()); }

/// Poles that add nothing to |Z| anywhere are no modes.
RationalModel without_traces(RationalModel model, const ImpedanceCurve& curve) {
  const double floor = 1e-6 * curve.magnitude_ohm().minCoeff();
  std::erase_if(model.real, [&](const RealPole& term) {
    return term.pole != 0 && std::abs(term.residue / term.pole) < floor;
  });
  std::erase_if(model.pairs, [&](const PolePair& term) {
    return std::abs(term.residue / term.pole.real()) < floor;
  });
  return model;
}

/// Of data without noise the poles themselves can be found, better than any circuit guessed: the
/// order rises as long as each step takes most of the error away. Nothing where that ends above
/// 1e-6, or in a model that is not passive.
std::optional<RationalModel> precise_model(const ImpedanceCurve& curve) {
  if (!curve.has_phase()) return std::nullopt;
  double last = 1;
  for (int order = 2; order <= 28 && order <= curve.points() / 4; order += order < 12 ? 5 : 4) {
    VectorFitOptions options;
    options.order = order;
    options.slope = options.relative = true;
    options.iterations = 12;
    options.settled = 1e-4;
    const auto model = without_traces(
        vector_fit(curve.frequency_hz(), curve.impedance_ohm(), options).model, curve);
    const double error = rms(relative_errors(model, curve));
    if (error < 1e-6 && passivity(model).passive) return model;
    if (order >= 16 && error > last / 3) return std::nullopt;
    last = error;
  }
  return std::nullopt;
}

/// The only resonance of a curve as that of a moving coil: parallel Res, Lces, Cmes has the pole's
/// Q as Qms and 2 Re residue = Res w0/Qms.
std::optional<MovingCoil> only_resonance(const RationalModel& impedance) {
  if (impedance.pairs.size() != 1) return std::nullopt;
  const auto& [pole, residue] = impedance.pairs[0];
  const Mode open = mode(pole);
  const double peak_ohm = 2 * residue.real() * open.q / std::abs(pole);
  const double dc_ohm = evaluate(impedance, Complex(0, 0)).real();
  if (!(peak_ohm > 0) || !(dc_ohm > 0) || !std::isfinite(dc_ohm)) return std::nullopt;
  return MovingCoil{"", dc_ohm, open.hz, open.q, open.q * dc_ohm / peak_ohm};
}

RationalCircuit fitted(const ImpedanceCurve& curve, const std::string& title, const Band& band) {
  if (const auto precise = precise_model(curve))
    return {circuit_of(*precise, title), *precise, {}, {}};
  return rational_circuit(circuit_of(fit_passive_model(curve).model, title), band);
}

DampingEarphone from_curve(const Earphone& earphone, const Band& band) {
  const ImpedanceCurve& curve = *earphone.curve;
  const RationalCircuit model = fitted(curve, earphone.title, band);
  const Array error = relative_errors(model.impedance, curve);
  DampingEarphone result{earphone.title,
                         model.circuit,
                         model.impedance,
                         100 * error.maxCoeff(),
                         100 * rms(error),
                         {},
                         {},
                         earphone.rated_ohm,
                         earphone.impedance.range(),
                         {}};
  result.moving_coil = only_resonance(model.impedance);
  if (*result.fit_rms_percent > 1)
    result.warnings.push_back(
        "the circuit fitted to the curve is off by more than 1 % rms, and the modes with it");
  return result;
}

bool is_number(const TheveninSource& source) {
  return !source.chain && source.output.range().high_hz == std::numeric_limits<double>::max();
}

/// The amplifier of whatever the source is.
Chain chain_of(const TheveninSource& source) {
  if (source.chain) return *source.chain;
  Source amplifier;
  if (is_number(source))
    amplifier.output_ohm = source.output.at(1000.0).real();
  else
    amplifier.output_curve = source.output;
  return Chain(source.label, amplifier, {});
}

/// The name of the driver's resonance that a store belongs to; empty for other parts.
std::string resonance_of(const std::string& store, const std::vector<MotionalPort>& drivers) {
  for (const auto& [driver, port] : drivers) {
    if (store.rfind(driver + ".", 0) != 0) continue;
    const std::string rest = store.substr(driver.size() + 1);
    if (rest == "resonance L" || rest == "resonance C" || rest == "mass" || rest == "suspension")
      return driver;
    if (rest.rfind("resonance ", 0) == 0) return driver + ", " + rest.substr(0, rest.size() - 2);
  }
  return "";
}

/// "low" for "low, resonance 1" when there is no second one.
std::string without_only_number(const std::string& name, const LinearSystem& system) {
  const std::string ending = ", resonance 1";
  if (name.size() <= ending.size() || !name.ends_with(ending)) return name;
  const std::string driver = name.substr(0, name.size() - ending.size());
  const auto& stores = system.store_names;
  const bool has_second =
      std::find(stores.begin(), stores.end(), driver + ".resonance 2 L") != stores.end();
  return has_second ? name : driver;
}

std::optional<std::string> dominant_resonance(const ModeShares& shares, const LinearSystem& system,
                                              const std::vector<MotionalPort>& drivers) {
  std::map<std::string, double> of_resonance;
  for (std::size_t i = 0; i < system.store_names.size(); ++i)
    of_resonance[resonance_of(system.store_names[i], drivers)] +=
        shares.of_store[static_cast<Eigen::Index>(i)];
  for (const auto& [name, share] : of_resonance)
    if (share > 0.5 && !name.empty()) return valid_utf8(without_only_number(name, system));
  return std::nullopt;
}

/// The earphone with its terminals held by an ideal voltage source.
Circuit shorted(const DampingEarphone& earphone) {
  CircuitDraft draft = earphone.circuit.draft();
  const Port port = earphone.circuit.port();
  draft.parts.push_back(voltage_source(emf, port.plus, port.minus, 1));
  return Circuit(std::move(draft));
}

}  // namespace

DampingEarphone damping_earphone(const Earphone& earphone, const Band& band) {
  const Band audio;
  const Band wide{std::min(audio.low_hz, band.low_hz), std::max(audio.high_hz, band.high_hz)};
  DampingEarphone result =
      earphone.circuit ? from_circuit(earphone, wide) : from_curve(earphone, wide);
  result.warnings.insert(result.warnings.begin(), earphone.warnings.begin(),
                         earphone.warnings.end());
  return result;
}

DampingSource damping_source(const TheveninSource& source) {
  const Chain chain = chain_of(source);
  RationalCircuit rational = rational_circuit(Circuit(chain_circuit(chain)), {}, "earphone");
  RationalModel output = std::move(rational.impedance);
  if (is_number(source)) output.constant = source.output.at(1000.0).real();  // not rounded
  const double ohm = std::abs(evaluate(output, Complex(0, two_pi * 1000)));
  DampingSource result{source.label, std::move(rational.circuit), std::move(output), ohm,
                       source.warnings};
  if (rational.error_percent.value_or(0) > 1)
    result.warnings.push_back("the model of " + printable(source.label) + " is off by up to " +
                              number_text(std::round(*rational.error_percent)) + " %");
  return result;
}

TerminalRatios terminal_ratios(const DampingEarphone& earphone, const DampingSource& source) {
  CircuitDraft draft = source.circuit.draft();
  const Port terminals = source.circuit.port("earphone"), own = earphone.circuit.port();
  const std::string prefix = "earphone: ";
  std::map<std::string, std::string> nodes{
      {earphone.circuit.reference(), prefix + earphone.circuit.reference()}};
  nodes[own.plus] = terminals.plus;
  nodes[own.minus] = terminals.minus;
  append(draft, earphone.circuit, prefix, nodes);
  const auto outer = [&](const std::string& node) {
    const auto found = nodes.find(node);
    return found == nodes.end() ? prefix + node : found->second;
  };
  std::vector<Port> outputs{terminals};
  for (const auto& [driver, port] : earphone.motional)
    outputs.push_back({driver, outer(port.plus), outer(port.minus)});
  const auto models = rational_models(
      linear_system(Circuit(std::move(draft)), {Drive::Kind::voltage_source, emf}, outputs));
  return {models[0], {models.begin() + 1, models.end()}};
}

std::vector<std::optional<std::string>> mode_names(const DampingEarphone& earphone,
                                                   const std::vector<Complex>& modes) {
  std::vector<std::optional<std::string>> names(modes.size());
  if (earphone.motional.empty()) return names;
  const LinearSystem system =
      linear_system(shorted(earphone), {Drive::Kind::voltage_source, emf}, {});
  const auto shares = mode_shares(system);
  for (std::size_t i = 0; i < modes.size(); ++i) {
    const auto nearest =
        std::min_element(shares.begin(), shares.end(), [&](const auto& a, const auto& b) {
          return std::abs(a.s - modes[i]) < std::abs(b.s - modes[i]);
        });
    if (nearest != shares.end()) names[i] = dominant_resonance(*nearest, system, earphone.motional);
  }
  return names;
}

}  // namespace ohmtilt
