#include <ohmtilt/circuit/passive_model.h>

#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double two_pi = 2 * std::numbers::pi;

Complex impedance(const Element& e, Complex s) {
  switch (e.kind) {
    case ElementKind::resistor:
      return e.ohm;
    case ElementKind::inductor:
      return s * e.henry;
    case ElementKind::capacitor:
      return 1.0 / (s * e.farad);
    case ElementKind::lossy_inductor:
      return e.k * std::pow(s, e.n);
    case ElementKind::resistor_capacitor:
      return 1.0 / (1 / e.ohm + s * e.farad);
    case ElementKind::resistor_inductor:
      return 1.0 / (1 / e.ohm + 1.0 / (s * e.henry));
    case ElementKind::resonance:
      return 1.0 / (1 / e.ohm + 1.0 / (s * e.henry) + s * e.farad);
  }
  return 0;
}

ComplexArray chain_impedance(const ElementChain& chain, const Array& hz) {
  ComplexArray z = ComplexArray::Zero(hz.size());
  for (const Element& element : chain) z += evaluate(element, hz);
  return z;
}

}  // namespace

ComplexArray evaluate(const Element& element, const Array& hz) {
  return hz.unaryExpr([&element](double f) { return impedance(element, Complex(0, two_pi * f)); });
}

ComplexArray evaluate(const PassiveModel& model, const Array& hz) {
  ComplexArray admittance = ComplexArray::Zero(hz.size());
  for (const ElementChain& branch : model.branches)
    admittance += chain_impedance(branch, hz).inverse();
  return chain_impedance(model.common, hz) + admittance.inverse();
}

double resonance_hz(const Element& element) {
  return 1 / (two_pi * std::sqrt(element.henry * element.farad));
}

double resonance_q(const Element& element) {
  return element.ohm * std::sqrt(element.farad / element.henry);
}

}  // namespace ohmtilt
