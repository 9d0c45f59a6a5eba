// A rational impedance as a circuit of integrators.
#include <ohmtilt/model/rational_circuit.h>

#include <cmath>

namespace ohmtilt {
namespace {

/// Parts in series from "tip" to "sleeve"; the first one measures the current.
class Realisation {
 public:
  Realisation(const RationalModel& model, const std::string& title) {
    draft_.title = title;
    draft_.reference = "sleeve";
    draft_.ports = {{"terminals", "tip", "sleeve"}};
    draft_.parts.push_back(voltage_source("current", "tip", "measured", 0));
    if (model.proportional != 0) {
      const std::string from = here_;
      draft_.parts.push_back(inductor("proportional", from, next(), model.proportional));
    }
    for (const RealPole& term : model.real) add_real(term);
    for (const PolePair& term : model.pairs) add_pair(term);
    draft_.parts.push_back(resistor("constant", here_, "sleeve", model.constant));
  }
  Circuit circuit() && { return Circuit(std::move(draft_)); }

 private:
  std::string next() { return here_ = "node " + std::to_string(++nodes_); }

  /// x' = rate x + gain i, with its output added to the series chain.
  void add_real(const RealPole& term) {
    const double size = std::sqrt(std::abs(term.residue));
    if (size == 0) return;
    const std::string x = new_state(size);
    couple(x, x, term.pole);
    add_output(x, std::copysign(size, term.residue));
  }

  /// Two states that turn into each other; the second one's current is zero.
  void add_pair(const PolePair& term) {
    const double size = std::sqrt(std::abs(term.residue));
    if (size == 0) return;
    const std::string x = new_state(2 * size), y = new_state(0);
    couple(x, x, term.pole.real());
    couple(x, y, term.pole.imag());
    couple(y, x, -term.pole.imag());
    couple(y, y, term.pole.real());
    add_output(x, term.residue.real() / size);
    add_output(y, term.residue.imag() / size);
  }

  std::string new_state(double gain) {
    const std::string x = "state " + std::to_string(++states_);
    draft_.parts.push_back(capacitor(x + " C", x, "sleeve", 1));
    if (gain == 0) return x;
    Part drive = four_terminal(PartKind::current_controlled_current_source, x + " drive",
                               {"sleeve", x}, {{"gain", gain}});
    drive.control = "current";
    draft_.parts.push_back(std::move(drive));
    return x;
  }

  void couple(const std::string& x, const std::string& from, double rate) {
    if (rate == 0) return;
    draft_.parts.push_back(four_terminal(PartKind::voltage_controlled_current_source,
                                         x + " from " + from, {"sleeve", x, from, "sleeve"},
                                         {{"siemens", rate}}));
  }

  void add_output(const std::string& x, double gain) {
    if (gain == 0) return;
    const std::string from = here_;
    draft_.parts.push_back(four_terminal(PartKind::voltage_controlled_voltage_source, x + " output",
                                         {from, next(), x, "sleeve"}, {{"gain", gain}}));
  }

  CircuitDraft draft_;
  std::string here_ = "measured";
  int nodes_ = 0, states_ = 0;
};

}  // namespace

Circuit circuit_of(const RationalModel& impedance, const std::string& title) {
  return Realisation(impedance, title).circuit();
}

}  // namespace ohmtilt
