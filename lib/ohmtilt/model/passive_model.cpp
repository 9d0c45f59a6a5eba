#include <ohmtilt/base/constants.h>
#include <ohmtilt/model/passive_model.h>

#include <cmath>

namespace ohmtilt {
namespace {

Complex impedance(const ModelBlock& e, Complex s) {
  switch (e.kind) {
    case BlockKind::resistor:
      return e.ohm;
    case BlockKind::inductor:
      return s * e.henry;
    case BlockKind::capacitor:
      return 1.0 / (s * e.farad);
    case BlockKind::lossy_inductor:
      return e.k * std::pow(s, e.n);
    case BlockKind::resistor_capacitor:
      return 1.0 / (1 / e.ohm + s * e.farad);
    case BlockKind::resistor_inductor:
      return 1.0 / (1 / e.ohm + 1.0 / (s * e.henry));
    case BlockKind::resonance:
      return 1.0 / (1 / e.ohm + 1.0 / (s * e.henry) + s * e.farad);
  }
  return 0;
}

ComplexArray chain_impedance(const BlockChain& chain, const Array& hz) {
  ComplexArray z = ComplexArray::Zero(hz.size());
  for (const ModelBlock& element : chain) z += evaluate(element, hz);
  return z;
}

}  // namespace

ComplexArray evaluate(const ModelBlock& element, const Array& hz) {
  return hz.unaryExpr([&element](double f) { return impedance(element, Complex(0, two_pi * f)); });
}

ComplexArray evaluate(const PassiveModel& model, const Array& hz) {
  ComplexArray admittance = ComplexArray::Zero(hz.size());
  for (const BlockChain& branch : model.branches)
    admittance += chain_impedance(branch, hz).inverse();
  return chain_impedance(model.common, hz) + admittance.inverse();
}

double resonance_hz(const ModelBlock& element) {
  return 1 / (two_pi * std::sqrt(element.henry * element.farad));
}

double resonance_q(const ModelBlock& element) {
  return element.ohm * std::sqrt(element.farad / element.henry);
}

}  // namespace ohmtilt
