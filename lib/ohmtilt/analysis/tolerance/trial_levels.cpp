#include <ohmtilt/analysis/tolerance/heat.h>
#include <ohmtilt/analysis/tolerance/trial_levels.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>

#include <algorithm>

namespace ohmtilt {
namespace {

constexpr double working_bytes = 48e6;
constexpr Eigen::Index most_columns = 120;  ///< so that progress is told now and then

Circuit circuit_of(const Chain& chain) { return Circuit(chain_circuit(chain)); }

/// One row of values over frequency.
DrawnValues row(const ComplexArray& values) { return values.transpose(); }

DrawnLevels::Source same_in_all(const TheveninSource& source, const Array& hz) {
  const TheveninSamples samples = source.at(hz);
  const bool open = samples.open_ratio.size() > 0;
  return {row(samples.output_ohm),
          open ? row(samples.open_ratio) : DrawnValues(DrawnValues::Ones(1, 1))};
}

/// A column of drawn values from draw first on.
const Complex* column(const DrawnValues& values, Eigen::Index f, Eigen::Index first) {
  return values.data() + (values.cols() > 1 ? f * values.rows() : 0) +
         (values.rows() > 1 ? first : 0);
}

double norm(Complex z) { return z.real() * z.real() + z.imag() * z.imag(); }

}  // namespace

Array level_power(const DrawnValues& load_ohm, const DrawnLevels::Source& source, Eigen::Index f,
                  Eigen::Index first, Eigen::Index count) {
  const Complex* load = column(load_ohm, f, first);
  const Complex* output = column(source.output_ohm, f, first);
  const Complex* open = column(source.open_ratio, f, first);
  const Eigen::Index load_step = load_ohm.rows() > 1, source_step = source.varies();
  Array power(count);
  if (load_step == 0 && source_step == 1) {  // the usual case, without a step that is not known
    const double load_power = norm(*load);
    for (Eigen::Index i = 0; i < count; ++i)
      power[i] = norm(open[i]) * load_power / norm(*load + output[i]);
    return power;
  }
  for (Eigen::Index i = 0; i < count; ++i) {
    const Complex z = load[i * load_step];
    power[i] = norm(open[i * source_step]) * norm(z) / norm(z + output[i * source_step]);
  }
  return power;
}

std::optional<DrawnLevels::Varied> DrawnLevels::varied(const TheveninSource& source,
                                                       const PartHeat& heat) {
  if (!source.chain) return std::nullopt;
  VariedCircuit circuit = varied_circuit(circuit_of(*source.chain), axes_, heat);
  if (circuit.values.empty()) return std::nullopt;
  return Varied{std::move(circuit)};
}

DrawnLevels::DrawnLevels(const TolerancedComparison& comparison, const ToleranceOptions& options)
    : comparison_(comparison) {
  to_ = varied(comparison.to, chain_heat(comparison, comparison.to, options));
  from_ = varied(comparison.from, chain_heat(comparison, comparison.from, options));
  if (!comparison.circuit) return;
  VariedCircuit earphone =
      varied_circuit(*comparison.circuit, axes_, earphone_heat(comparison, options));
  if (!earphone.values.empty()) load_ = Varied{std::move(earphone)};
}

void DrawnLevels::prepare(const Draws& draws) {
  draws_ = &draws;
  for (auto* one : {&to_, &from_}) {
    if (!*one || !varies_resistors_only((*one)->circuit)) continue;
    auto port = draws_of(**one).resistive_port((*one)->circuit.circuit.port("earphone"));
    (*one)->resistive = Source{std::move(port.impedance_ohm), std::move(port.open_volt)};
  }
}

Eigen::Index DrawnLevels::block_size() const {
  int numbers = load_ ? 1 : 0;
  for (const auto* one : {&to_, &from_})
    if (*one && !(*one)->resistive) numbers += 2;
  const double column_bytes = std::max(1, numbers) * 16. * static_cast<double>(draws_->count());
  return std::clamp<Eigen::Index>(static_cast<Eigen::Index>(working_bytes / column_bytes), 1,
                                  most_columns);
}

DrawnLevels::Source DrawnLevels::source(const TheveninSource& source,
                                        const std::optional<Varied>& varied,
                                        const Array& hz) const {
  if (!varied) return same_in_all(source, hz);
  if (varied->resistive) return *varied->resistive;
  Source result{DrawnValues(draws_->count(), hz.size()), DrawnValues(draws_->count(), hz.size())};
  const Port& port = varied->circuit.circuit.port("earphone");
  draws_of(*varied).each(hz, [&](Eigen::Index draw, const NodalSystem& system) {
    const TheveninPort found = thevenin(system, port);
    result.output_ohm.row(draw) = found.impedance_ohm.transpose();
    result.open_ratio.row(draw) = found.open_volt.transpose();
  });
  return result;
}

DrawnLevels::Block DrawnLevels::block(const Array& hz, Eigen::Index first) const {
  Block result;
  result.from = source(comparison_.from, from_, hz);
  result.to = source(comparison_.to, to_, hz);
  if (!load_) {
    result.load_ohm = comparison_.circuit ? row(driving_point(*comparison_.circuit, hz))
                                          : row(comparison_.load_ohm.segment(first, hz.size()));
    return result;
  }
  result.load_ohm = DrawnValues(draws_->count(), hz.size());
  const Port& port = load_->circuit.circuit.port();
  draws_of(*load_).each(hz, [&](Eigen::Index draw, const NodalSystem& system) {
    result.load_ohm.row(draw) = driving_point(system, port).transpose();
  });
  return result;
}

}  // namespace ohmtilt
