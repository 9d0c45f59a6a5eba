#include <ohmtilt/analysis/damping_system.h>
#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/driver_parameters.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/passive_fit.h>
#include <ohmtilt/circuit/rational_circuit.h>

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
  RationalModel impedance = port_model(rational.circuit);
  return {earphone.title,
          std::move(rational.circuit),
          std::move(impedance),
          rational.error_percent,
          {},
          first_moving_coil(*earphone.circuit),
          motional_ports(*earphone.circuit),
          earphone.rated_ohm,
          earphone.impedance.range(),
          rational.warnings};
}

double largest_error_percent(const RationalModel& model, const ImpedanceCurve& curve) {
  const ComplexArray found = evaluate(model, curve.frequency_hz());
  const Array& data = curve.magnitude_ohm();
  const Array off = curve.has_phase() ? Array((found - curve.impedance_ohm()).abs())
                                      : Array((found.abs() - data).abs());
  return 100 * (off / data).maxCoeff();
}

DampingEarphone from_curve(const Earphone& earphone, const Band& band) {
  const PassiveFit fit = fit_passive_model(*earphone.curve);
  RationalCircuit rational = rational_circuit(circuit_of(fit.model, earphone.title), band);
  RationalModel impedance = port_model(rational.circuit);
  const double error_percent = largest_error_percent(impedance, *earphone.curve);
  DampingEarphone result{earphone.title,
                         std::move(rational.circuit),
                         std::move(impedance),
                         error_percent,
                         fit.rms_error_percent,
                         {},
                         {},
                         earphone.rated_ohm,
                         earphone.impedance.range(),
                         {}};
  const auto driver = driver_from_circuit(fit.model);
  if (driver && fit.resonances == 1)
    result.moving_coil = {"", driver->dc_ohm, driver->resonance_hz, driver->q_mechanical,
                          driver->q_electrical};
  if (fit.rms_error_percent > 1)
    result.warnings.push_back(
        "the circuit fitted to the curve is off by more than 1 % rms, and the modes with it");
  return result;
}

/// The amplifier of whatever the source is.
Chain chain_of(const TheveninSource& source) {
  if (source.chain) return *source.chain;
  Source amplifier;
  const bool is_number = source.output.range().high_hz == std::numeric_limits<double>::max();
  if (is_number)
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

std::optional<std::string> dominant_resonance(const ModeShares& shares, const LinearSystem& system,
                                              const std::vector<MotionalPort>& drivers) {
  std::map<std::string, double> of_resonance;
  for (std::size_t i = 0; i < system.store_names.size(); ++i)
    of_resonance[resonance_of(system.store_names[i], drivers)] +=
        shares.of_store[static_cast<Eigen::Index>(i)];
  for (const auto& [name, share] : of_resonance)
    if (share > 0.5 && !name.empty()) return valid_utf8(name);
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
  RationalModel output = port_model(rational.circuit, "earphone");
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
