
#include <ohmtilt/analysis/tolerance/trials.h>
#include <ohmtilt/base/parallel.h>
#include <ohmtilt/base/random.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

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

Draws Draws::random(const ToleranceOptions& options, std::vector<DrawAxis> axes) {
  if (options.samples < least_samples || options.samples > most_samples)
    throw InputError(std::to_string(options.samples) + " samples are not allowed",
                     "give 10 to 1000000");
  Draws draws;
  draws.distribution_ = options.distribution;
  draws.axes_ = std::move(axes);
  draws.count_ = options.samples;
  draws.seed_ = options.seed;
  return draws;
}

Draws Draws::corners(std::size_t axes) {
  if (axes > most_corner_values)
    throw InputError(std::to_string(axes) + " values with a tolerance have too many corners",
                     "give at most 14 of them a tolerance, or ask for percentiles");
  Draws draws;
  draws.kind_ = Kind::corners;
  draws.count_ = Eigen::Index{1} << axes;
  return draws;
}

Draws Draws::listed(Eigen::MatrixXd deviates) {
  Draws draws;
  draws.kind_ = Kind::listed;
  draws.count_ = deviates.rows();
  draws.listed_ = std::move(deviates);
  return draws;
}

double Draws::deviate(Eigen::Index draw, std::size_t axis) const {
  if (kind_ == Kind::corners) return (draw >> axis) & 1 ? 1 : -1;
  if (kind_ == Kind::listed) return listed_(draw, static_cast<Eigen::Index>(axis));
  const DrawAxis here = axis < axes_.size() ? axes_[axis] : DrawAxis{};
  draw -= draw % here.alike;
  const RandomPlace place{seed_, static_cast<std::uint64_t>(draw), axis, 0};
  switch (here.distribution.value_or(distribution_)) {
    case Distribution::normal:
      return cut_normal_number(place);
    case Distribution::binned: {
      const double u = 2 * uniform_number(place) - 1;
      return std::copysign(here.sorted_out + (1 - here.sorted_out) * std::abs(u), u);
    }
    case Distribution::uniform:
      break;
  }
  return 2 * uniform_number(place) - 1;
}

double CircuitDraws::drawn(std::size_t value, Eigen::Index draw) const {
  const VariedValue& varied = circuit_.values[value];
  return varied.moved(
      varied.relative([&](std::size_t axis) { return draws_.deviate(draw, axis); }));
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
        values[k] = {circuit_.values[k].index, drawn(k, draw)};
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
      for (Eigen::Index i = 0; i < count; ++i) ohm[i] = drawn(k, first + i);
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
