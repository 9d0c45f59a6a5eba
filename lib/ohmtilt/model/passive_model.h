#pragma once
// Equivalent circuits of positive parts: what a fit to an impedance curve gives.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/model/rational_model.h>

#include <string>
#include <vector>

namespace ohmtilt {

/// The building blocks, in series within a chain.
enum class BlockKind {
  resistor,            ///< ohm
  inductor,            ///< henry
  capacitor,           ///< farad
  lossy_inductor,      ///< k (j w)^n, k in ohm s^n, 0 < n <= 1
  resistor_capacitor,  ///< ohm and farad in parallel: falls with frequency
  resistor_inductor,   ///< ohm and henry in parallel: rises with frequency
  resonance            ///< ohm, henry and farad in parallel: peaks
};

/// One building block; values that its kind does not use are zero, the others positive.
struct ModelBlock {
  BlockKind kind = BlockKind::resistor;
  double ohm = 0, henry = 0, farad = 0, k = 0, n = 0;
};
using BlockChain = std::vector<ModelBlock>;

/// common in series with the parallel connection of branches (at least one, none empty). A single
/// chain, the Foster form, has one branch and an empty common. Passive because all parts are.
struct PassiveModel {
  BlockChain common;
  std::vector<BlockChain> branches;
};

/// Impedance of one block in ohm at hz.
ComplexArray evaluate(const ModelBlock& element, const Array& hz);
/// Impedance of the whole in ohm at hz.
ComplexArray evaluate(const PassiveModel& model, const Array& hz);

/// Resonance frequency in hertz and Q of a resonance block.
double resonance_hz(const ModelBlock& element);
double resonance_q(const ModelBlock& element);

/// The model as parts between the nodes "tip" and "sleeve".
std::vector<Part> parts(const PassiveModel& model);
/// The same as a circuit with one port, "terminals".
Circuit circuit_of(const PassiveModel& model, const std::string& title);

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
