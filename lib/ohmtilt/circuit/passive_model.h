#pragma once
// Equivalent circuits of positive parts: what a fit to an impedance curve gives.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/rational_model.h>

#include <string>
#include <vector>

namespace ohmtilt {

/// The building blocks, in series within a chain.
enum class ElementKind {
  resistor,            ///< ohm
  inductor,            ///< henry
  capacitor,           ///< farad
  lossy_inductor,      ///< k (j w)^n, k in ohm s^n, 0 < n <= 1
  resistor_capacitor,  ///< ohm and farad in parallel: falls with frequency
  resistor_inductor,   ///< ohm and henry in parallel: rises with frequency
  resonance            ///< ohm, henry and farad in parallel: peaks
};

/// One building block; values that its kind does not use are zero, the others positive.
struct Element {
  ElementKind kind = ElementKind::resistor;
  double ohm = 0, henry = 0, farad = 0, k = 0, n = 0;
};
using ElementChain = std::vector<Element>;

/// common in series with the parallel connection of branches (at least one, none empty). A single
/// chain, the Foster form, has one branch and an empty common. Passive because all parts are.
struct PassiveModel {
  ElementChain common;
  std::vector<ElementChain> branches;
};

/// Impedance of one block in ohm at hz.
ComplexArray evaluate(const Element& element, const Array& hz);
/// Impedance of the whole in ohm at hz.
ComplexArray evaluate(const PassiveModel& model, const Array& hz);

/// Resonance frequency in hertz and Q of a resonance block.
double resonance_hz(const Element& element);
double resonance_q(const Element& element);

/// One part of the circuit, in the words of the circuit file: kind as there, two nodes, and values
/// under their keys ("ohm", "henry", "farad", "k", "n").
struct ModelPart {
  struct Value {
    std::string key;
    double value = 0;
  };
  std::string name;
  std::string kind;
  std::string from, to;
  std::vector<Value> values;
};

/// The model as parts between the nodes "tip" and "sleeve".
std::vector<ModelPart> parts(const PassiveModel& model);

/// k (j w)^n as a resistance, an inductance and resistances in parallel with inductances, all >= 0.
struct LossyInductorForm {
  RationalModel model;
  double largest_error_percent = 0;  ///< of |Z| over the band
};
/// The sections (R parallel L) are spaced in ln f over the band and a little beyond, as few as keep
/// the error below error_percent (9 for three decades and 0.1 %); their values are the least
/// squares for the relative error. Throws InputError unless k > 0 and 0 < n <= 1.
LossyInductorForm lossy_inductor_rational(double k, double n, const Band& band,
                                          double error_percent = 0.1);

/// The model as one rational function, lossy inductors replaced as above.
struct RationalForm {
  RationalModel model;
  double largest_error_percent = 0;  ///< |rational - Z| / |Z| over the band
};
RationalForm rational_form(const PassiveModel& model, const Band& band, double error_percent = 0.1);

}  // namespace ohmtilt
