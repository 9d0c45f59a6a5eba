#include <ohmtilt/analysis/level/crosstalk.h>
#include <ohmtilt/analysis/level/drive.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

/// Below this the idle earphone's voltage is the solver's rounding.
constexpr double least_ratio = 1e-12;
constexpr double nothing_crosses = std::numeric_limits<double>::infinity();

Array separation_db(const Chain& chain, const Earphone& earphone, const Array& hz, int wires,
                    bool idle_driven) {
  if (chain.source().balanced) return Array::Constant(hz.size(), nothing_crosses);
  StereoCircuitOptions options;
  options.wires = wires;
  options.idle_driven = idle_driven;
  options.earphone = earphone.impedance;
  const Circuit circuit(stereo_circuit(chain, options));
  const auto volts = own_port_volts(circuit, hz);
  const Array ratio = volts[1].volt.abs() / volts[0].volt.abs();
  return (ratio > least_ratio)
      .select(-db_from_amplitude(Array(ratio.max(least_ratio))), nothing_crosses);
}

std::optional<Separation> worst_of(const Array& hz, const Array& db) {
  Eigen::Index at = 0;
  const double least = db.minCoeff(&at);
  if (!std::isfinite(least)) return std::nullopt;
  return Separation{hz[at], least};
}

std::string why_nothing_crosses(const Chain& chain, const CrosstalkOptions& options) {
  if (chain.source().balanced)
    return "a balanced output has no return that its channels share, so there is no crosstalk in "
           "the leads; what arises inside the amplifier is not in this circuit";
  if (!crosstalk_is_known(chain))
    return "neither [source] nor a cable has a `shared_return_ohm`: write the resistance of the "
           "jack's contact and of the cable's common wire there";
  if (!options.idle_driven)
    return "an unplugged idle channel closes no loop for the shared return to drive";
  return options.wires == 4 ? "with four wires nothing of the cable is shared"
                            : "the shared return has no resistance";
}

}  // namespace

bool crosstalk_is_known(const Chain& chain) {
  const auto& stages = chain.stages();
  return chain.source().balanced || chain.source().shared_return_ohm ||
         std::any_of(stages.begin(), stages.end(), [](const Stage& stage) {
           const auto* cable = std::get_if<Cable>(&stage);
           return cable != nullptr && cable->shared_return_ohm;
         });
}

Crosstalk crosstalk(const Chain& chain, const Earphone& of, const CrosstalkOptions& options) {
  KnownBand known = known_band(chain, of, options.band);
  Crosstalk result;
  result.warnings = std::move(known.cut);
  result.hz = log_grid(known.band, options.points);
  const Earphone earphone = sampled(of, result.hz);
  result.separation_db =
      separation_db(chain, earphone, result.hz, options.wires, options.idle_driven);
  result.worst = worst_of(result.hz, result.separation_db);
  result.four_wire_db = options.wires == 4
                            ? result.separation_db
                            : separation_db(chain, earphone, result.hz, 4, options.idle_driven);
  result.four_wire_worst = worst_of(result.hz, result.four_wire_db);
  if (!result.worst) result.warnings.push_back(why_nothing_crosses(chain, options));
  return result;
}

}  // namespace ohmtilt
