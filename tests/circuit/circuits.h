#pragma once
// Small circuits that several tests take apart.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>

#include <cmath>
#include <numbers>
#include <string>
#include <vector>

#include "tests/support.h"

namespace ohmtilt::test {

/// A circuit over node "0"; each port is named after its plus node.
inline Circuit circuit_of(std::vector<Part> parts, std::vector<std::string> port_nodes = {"in"}) {
  CircuitDraft draft;
  draft.title = "test";
  draft.reference = "0";
  for (const auto& node : port_nodes) draft.ports.push_back({node, node, "0"});
  draft.parts = std::move(parts);
  return Circuit(std::move(draft));
}

inline Circuit with_value(const Circuit& circuit, ValueIndex index, double value) {
  CircuitDraft changed = circuit.draft();
  changed.parts.at(index.part).values.at(index.value).value = value;
  return Circuit(std::move(changed));
}

inline Part named_part(PartKind kind, std::string name, std::vector<std::string> nodes,
                       std::vector<PartValue> values, std::string control = {}) {
  Part part = four_terminal(kind, std::move(name), std::move(nodes), std::move(values));
  part.control = std::move(control);
  return part;
}

inline const Array one_kilohertz = Array::Constant(1, 1000);
inline Array audio_grid(Eigen::Index points = 101) { return log_grid({20, 20000}, points); }

inline ComplexArray s_of(const Array& hz) {
  return Complex(0, 2 * std::numbers::pi) * hz.cast<Complex>();
}

/// The largest |found - wanted| / |wanted|.
inline double relative_error(const ComplexArray& found, const ComplexArray& wanted) {
  return ((found - wanted).abs() / wanted.abs()).maxCoeff();
}

/// What the call's InputError says; empty when it throws none.
template <class Call>
std::string error_of(const Call& call) {
  try {
    call();
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

}  // namespace ohmtilt::test
