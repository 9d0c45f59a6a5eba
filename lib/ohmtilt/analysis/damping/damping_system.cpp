#include <ohmtilt/analysis/damping/damping_system.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/rational_circuit.h>
#include <ohmtilt/model/vector_fitting.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

namespace ohmtilt {
namespace {

constexpr const char* emf_name = "source.emf";

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
      ports.push_back({driver.name, {driver.name, elementary.nodes[0], driver.nodes[1]}, {}});
      break;
    }
  }
  return ports;
}

/// What the terminals and the motional ports do for a current into the terminals.
void solve(DampingEarphone& earphone) {
  std::vector<Port> ports;
  for (const auto& motional : earphone.motional) ports.push_back(motional.port);
  PortModels models = port_models(earphone.circuit, {}, ports);
  earphone.impedance = std::move(models.impedance);
  earphone.system = std::move(models.system);
  earphone.open_modes = std::move(models.modes);
  for (std::size_t i = 0; i < ports.size(); ++i)
    earphone.motional[i].transfer = std::move(models.transfer[i]);
}

/// What the earphone says of itself, around a circuit that is not solved yet.
DampingEarphone around(Circuit circuit, const Earphone& earphone) {
  return {earphone.title,     std::move(circuit),         {}, {}, {}, {}, {}, {}, {},
          earphone.rated_ohm, earphone.impedance.range(), {}, {}};
}

DampingEarphone from_circuit(const Earphone& earphone, const Band& band) {
  RationalCircuit rational = rational_circuit(*earphone.circuit, band);
  DampingEarphone result = around(std::move(rational.circuit), earphone);
  result.moving_coil = first_moving_coil(*earphone.circuit);
  result.motional = motional_ports(*earphone.circuit);
  result.warnings = std::move(rational.warnings);
  result.power_laws = std::move(rational.power_laws);
  solve(result);
  if (rational.approximated)
    result.error_percent = model_error_percent(result.impedance, *earphone.circuit, band);
  return result;
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
RationalModel without_negligible_terms(RationalModel model, const ImpedanceCurve& curve) {
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
    options.proportional = options.relative = true;
    options.iterations = 12;
    options.settled = 1e-4;
    const auto model = without_negligible_terms(
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

/// Solved, of the model that serves the curve best.
DampingEarphone fitted(const Earphone& earphone, const Band& band) {
  const ImpedanceCurve& curve = *earphone.curve;
  if (const auto precise = precise_model(curve)) {
    DampingEarphone result = around(circuit_of(*precise, earphone.title), earphone);
    solve(result);
    result.impedance = *precise;
    return result;
  }
  RationalCircuit rational =
      rational_circuit(circuit_of(fit_passive_model(curve).model, earphone.title), band);
  DampingEarphone result = around(std::move(rational.circuit), earphone);
  result.power_laws = std::move(rational.power_laws);
  solve(result);
  return result;
}

DampingEarphone from_curve(const Earphone& earphone, const Band& band) {
  DampingEarphone result = fitted(earphone, band);
  const Array error = relative_errors(result.impedance, *earphone.curve);
  result.error_percent = 100 * error.maxCoeff();
  result.fit_rms_percent = 100 * rms(error);
  result.moving_coil = only_resonance(result.impedance);
  if (*result.fit_rms_percent > 1)
    result.warnings.push_back(
        "the circuit fitted to the curve is off by more than 1 % rms, and the resonances with it");
  return result;
}

bool is_number(const TheveninSource& source) {
  return !source.chain && source.output.range().high_hz == std::numeric_limits<double>::max();
}

bool has_two_port(const Chain& chain) {
  const auto parts = chain_circuit(chain).parts;
  return std::any_of(parts.begin(), parts.end(), [](const Part& part) { return part.two_port; });
}

/// The amplifier of whatever the source is. A two-port is known at single frequencies, so a chain
/// with one is its output impedance, fitted; its own delay and filtering are no part of it.
Chain chain_of(const TheveninSource& source) {
  if (source.chain && !has_two_port(*source.chain)) return *source.chain;
  Source amplifier;
  if (is_number(source))
    amplifier.output_ohm = source.output.at(1000.0).real();
  else
    amplifier.output_curve = source.output;
  return Chain(source.label, amplifier, {});
}

/// The name of the driver's resonance that a state belongs to; empty for other parts.
std::string resonance_of(const std::string& state, const std::vector<MotionalPort>& drivers) {
  for (const auto& [driver, port, transfer] : drivers) {
    if (state.rfind(driver + ".", 0) != 0) continue;
    const std::string rest = state.substr(driver.size() + 1);
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
  const auto& states = system.state_names;
  const bool has_second =
      std::find(states.begin(), states.end(), driver + ".resonance 2 L") != states.end();
  return has_second ? name : driver;
}

std::optional<std::string> dominant_resonance(const Array& share_of_state,
                                              const DampingEarphone& earphone) {
  std::map<std::string, double> of_resonance;
  const auto& states = earphone.system.state_names;
  for (std::size_t i = 0; i < states.size(); ++i)
    of_resonance[resonance_of(states[i], earphone.motional)] +=
        share_of_state[static_cast<Eigen::Index>(i)];
  for (const auto& [name, share] : of_resonance)
    if (share > 0.5 && !name.empty()) return valid_utf8(without_only_number(name, earphone.system));
  return std::nullopt;
}

/// Everything that stands in the loop of a source without stores, as the zeros of Z + Rs have it.
TerminalRatios ratios_at(const DampingEarphone& earphone, const DampingSource& source,
                         const std::vector<Complex>& modes) {
  const RationalModel loop = sum(earphone.impedance, source.output);
  const auto ratio = [&](const RationalModel& voltage) {
    return scaled(quotient(voltage, loop, modes), *source.open_ratio);
  };
  TerminalRatios ratios{ratio(earphone.impedance), {}};
  for (const auto& motional : earphone.motional)
    ratios.motional.push_back(ratio(motional.transfer));
  return ratios;
}

/// Source and earphone as one system.
TerminalRatios solved_ratios(const DampingEarphone& earphone, const DampingSource& source) {
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
  for (const auto& [driver, port, transfer] : earphone.motional)
    outputs.push_back({driver, outer(port.plus), outer(port.minus)});
  const LinearSystem system =
      linear_system(Circuit(std::move(draft)), {Drive::Kind::voltage_source, emf_name}, outputs);
  const auto models = rational_models(system, natural_modes(system));
  return {models[0], {models.begin() + 1, models.end()}};
}

/// Nothing where the circuit stores energy.
std::optional<double> open_ratio(const Circuit& source) {
  const LinearSystem system =
      linear_system(source, {Drive::Kind::voltage_source, emf_name}, {source.port("earphone")});
  if (!system.state_names.empty()) return std::nullopt;
  return system.d[0];
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
  const Circuit circuit(chain_circuit(chain));
  RationalCircuit rational = rational_circuit(circuit);
  RationalModel output = port_models(rational.circuit, "earphone").impedance;
  if (is_number(source)) output.constant = source.output.at(1000.0).real();  // not rounded
  const double ohm = std::abs(evaluate(output, Complex(0, two_pi * 1000)));
  DampingSource result{
      source.label,    std::move(rational.circuit),    std::move(output),  ohm, std::nullopt,
      source.warnings, std::move(rational.power_laws), source.short_name()};
  result.open_ratio = open_ratio(result.circuit);
  if (source.chain && has_two_port(*source.chain))
    result.warnings.push_back(printable(source.label) +
                              " holds a two-port of a file: a circuit fitted to its output "
                              "impedance stands for it");
  if (!rational.approximated) return result;
  const double error = model_error_percent(result.output, circuit, {}, "earphone");
  if (error > 1)
    result.warnings.push_back("the model of " + printable(source.label) + " is off by up to " +
                              number_text(std::round(error)) + " %");
  return result;
}

TerminalRatios terminal_ratios(const DampingEarphone& earphone, const DampingSource& source,
                               const std::vector<Complex>& modes) {
  return source.open_ratio ? ratios_at(earphone, source, modes) : solved_ratios(earphone, source);
}

std::vector<std::optional<std::string>> mode_names(const DampingEarphone& earphone,
                                                   const std::vector<Complex>& modes) {
  std::vector<std::optional<std::string>> names(modes.size());
  if (earphone.motional.empty()) return names;
  for (std::size_t i = 0; i < modes.size(); ++i)
    names[i] =
        dominant_resonance(energy_shares(earphone.system, earphone.open_modes, modes[i]), earphone);
  return names;
}

}  // namespace ohmtilt
