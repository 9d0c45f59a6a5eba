
#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/random.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>

namespace ohmtilt {
namespace {

constexpr long least_samples = 10;
constexpr long most_samples = 1000000;
constexpr std::size_t most_corner_values = 14;
/// Draws that one task works on; the results do not depend on it.
constexpr Eigen::Index task_draws = 256;
/// Draws that go through the solver side by side in place of frequencies.
constexpr Eigen::Index lane_draws = 2048;

/// One resistor whose value is another one at each "frequency" 1, 2, 3 ...
Part resistor_over_draws(const Part& part, Array ohm) {
  const auto evaluate = [ohm = std::move(ohm)](const Array& number) -> ComplexArray {
    ComplexArray result(number.size());
    for (Eigen::Index i = 0; i < number.size(); ++i)
      result[i] = ohm[static_cast<Eigen::Index>(number[i]) - 1];
    return result;
  };
  const auto last = static_cast<double>(lane_draws);
  return curve_part(part.name, part.nodes[0], part.nodes[1], OnePort({1, last}, evaluate));
}

}  // namespace

Draws Draws::random(const ToleranceOptions& options) {
  if (options.samples < least_samples || options.samples > most_samples)
    throw InputError(std::to_string(options.samples) + " samples are not allowed",
                     "give 10 to 1000000");
  Draws draws;
  draws.kind_ = options.distribution == Distribution::normal ? Kind::normal : Kind::uniform;
  draws.count_ = options.samples;
  draws.seed_ = options.seed;
  return draws;
}

Draws Draws::corners(std::size_t values) {
  if (values > most_corner_values)
    throw InputError(std::to_string(values) + " values with a tolerance have too many corners",
                     "give at most 14 of them a tolerance, or ask for percentiles");
  Draws draws;
  draws.kind_ = Kind::corners;
  draws.count_ = Eigen::Index{1} << values;
  return draws;
}

double Draws::deviate(Eigen::Index draw, std::size_t value) const {
  const RandomPlace place{seed_, static_cast<std::uint64_t>(draw), value, 0};
  switch (kind_) {
    case Kind::uniform:
      return 2 * uniform_number(place) - 1;
    case Kind::normal:
      return cut_normal_number(place);
    case Kind::corners:
      break;
  }
  return (draw >> value) & 1 ? 1 : -1;
}

bool varies_resistors_only(const VariedCircuit& circuit) {
  const auto& parts = circuit.circuit.parts();
  return is_resistive(circuit.circuit) &&
         std::all_of(circuit.values.begin(), circuit.values.end(), [&](const VariedValue& value) {
           return parts[value.index.part].kind == PartKind::resistor;
         });
}

void CircuitDraws::each(const Array& hz,
                        const std::function<void(Eigen::Index, const NodalSystem&)>& use) const {
  const NodalSystem nominal(circuit_.circuit, hz);
  const auto work = [&](Eigen::Index first, Eigen::Index last) {
    NodalSystem system(nominal);
    std::vector<NewValue> values(circuit_.values.size());
    for (Eigen::Index draw = first; draw < last; ++draw) {
      for (std::size_t k = 0; k < values.size(); ++k)
        values[k] = {circuit_.values[k].index,
                     circuit_.values[k].at(draws_.deviate(draw, first_value_ + k))};
      system.set_values(values);
      use(draw, system);
    }
  };
  parallel_ranges(draws_.count(), task_draws, work);
}

CircuitDraws::Port CircuitDraws::resistive_port(const ohmtilt::Port& port) const {
  Port result{DrawnValues(draws_.count(), 1), DrawnValues(draws_.count(), 1)};
  const auto work = [&](Eigen::Index block) {
    const Eigen::Index first = block * lane_draws;
    const Eigen::Index count = std::min(lane_draws, draws_.count() - first);
    CircuitDraft draft = circuit_.circuit.draft();
    for (std::size_t k = 0; k < circuit_.values.size(); ++k) {
      Array ohm(count);
      for (Eigen::Index i = 0; i < count; ++i)
        ohm[i] = circuit_.values[k].at(draws_.deviate(first + i, first_value_ + k));
      Part& part = draft.parts[circuit_.values[k].index.part];
      part = resistor_over_draws(part, std::move(ohm));
    }
    Array numbers(count);
    for (Eigen::Index i = 0; i < count; ++i) numbers[i] = static_cast<double>(i + 1);
    const TheveninPort found = thevenin(Circuit(std::move(draft)), numbers, port.name);
    result.open_volt.col(0).segment(first, count) = found.open_volt;
    result.impedance_ohm.col(0).segment(first, count) = found.impedance_ohm;
  };
  parallel_for(Eigen::Index{0}, (draws_.count() + lane_draws - 1) / lane_draws, work);
  return result;
}

}  // namespace ohmtilt
