#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/trust_region.h>
#include <ohmtilt/design/flatten/flatten_fit.h>

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

constexpr double source_parts[] = {1, 0.35};  // of the largest source: spans of both count
constexpr double floor_weight = 100;          // residuals a neper below the floor
constexpr double bought_weight = 30;          // a neper beyond what can be had

/// Residuals and derivatives of one network shape. Parameters: the values' logarithms, then the
/// middle of the deviation in dB for each source.
class Residuals final : public ResidualFunction {
 public:
  Residuals(const FlattenGoal& goal, const std::vector<FlattenBranch>& shape)
      : goal_(goal),
        shape_(shape),
        omega_(2 * std::numbers::pi * goal.hz),
        siemens_(goal.load_ohm.inverse()),
        values_(network_point(shape).size()) {}

  void set_norm(double power, double scale_db) {
    half_power_ = power / 2;
    scale_db_ = scale_db;
  }
  Eigen::VectorXd start() const;
  std::vector<FlattenBranch> network(const Eigen::VectorXd& x) const {
    return network_at(std::vector<double>(x.data(), x.data() + values_), goal_, shape_);
  }
  /// Half of the widest span of the sources, which every distance is measured by.
  double half_span_db(const std::vector<FlattenBranch>& network) const;

  int parameters() const override { return static_cast<int>(values_ + std::size(source_parts)); }
  int residuals() const override {
    return static_cast<int>(points() * (std::size(source_parts) + 1) + values_);
  }
  void value(const Eigen::VectorXd& x, Eigen::VectorXd& residual) const override;
  void jacobian(const Eigen::VectorXd& x, Eigen::MatrixXd& slope) const override;

 private:
  std::size_t points() const { return static_cast<std::size_t>(omega_.size()); }
  ComplexArray total(const std::vector<FlattenBranch>& network) const;
  /// Derivatives of the whole admittance by each value's logarithm, one a column.
  Eigen::ArrayXXcd slopes(const std::vector<FlattenBranch>& network) const;
  double source_ohm(std::size_t k) const { return goal_.source_ohm * source_parts[k]; }
  PartRange bought(std::size_t value) const;

  const FlattenGoal& goal_;
  const std::vector<FlattenBranch>& shape_;
  Array omega_;
  ComplexArray siemens_;
  std::size_t values_;
  double half_power_ = 1, scale_db_ = 1;
};

Array deviation_db(const ComplexArray& siemens, double source_ohm) {
  return -db_per_neper * (1 + source_ohm * siemens).abs().log();
}
double middle(const Array& values) { return (values.maxCoeff() + values.minCoeff()) / 2; }

ComplexArray Residuals::total(const std::vector<FlattenBranch>& network) const {
  ComplexArray sum = siemens_;
  for (const auto& branch : network) sum += branch_ohm(branch, goal_.hz).inverse();
  return sum;
}

Eigen::VectorXd Residuals::start() const {
  const std::vector<double> point = network_point(shape_);
  Eigen::VectorXd x(parameters());
  x.head(values_) = Eigen::Map<const Eigen::VectorXd>(point.data(), values_);
  for (std::size_t k = 0; k < std::size(source_parts); ++k)
    x[values_ + k] = middle(deviation_db(total(shape_), source_ohm(k)));
  return x;
}

double Residuals::half_span_db(const std::vector<FlattenBranch>& network) const {
  double largest = 0;
  for (std::size_t k = 0; k < std::size(source_parts); ++k) {
    const Array db = deviation_db(total(network), source_ohm(k));
    largest = std::max(largest, (db.maxCoeff() - db.minCoeff()) / 2);
  }
  return largest;
}

void Residuals::value(const Eigen::VectorXd& x, Eigen::VectorXd& residual) const {
  const ComplexArray siemens = total(network(x));
  const auto n = static_cast<Eigen::Index>(points());
  for (std::size_t k = 0; k < std::size(source_parts); ++k) {
    const Array distance = (deviation_db(siemens, source_ohm(k)) - x[values_ + k]) / scale_db_;
    residual.segment(k * n, n) = distance.sign() * distance.abs().pow(half_power_);
  }
  residual.segment(std::size(source_parts) * n, n) =
      floor_weight * (siemens.abs() * goal_.least_ohm).log().max(0);
  for (std::size_t i = 0; i < values_; ++i) {
    const PartRange limits = bought(i);
    residual[residual.size() - values_ + i] =
        bought_weight * (std::max(0.0, x[i] - limits.high) - std::max(0.0, limits.low - x[i]));
  }
}

void Residuals::jacobian(const Eigen::VectorXd& x, Eigen::MatrixXd& slope) const {
  const auto branches = network(x);
  const ComplexArray siemens = total(branches);
  const Eigen::ArrayXXcd by_value = slopes(branches);
  const auto n = static_cast<Eigen::Index>(points());
  slope.setZero();
  for (std::size_t k = 0; k < std::size(source_parts); ++k) {
    const double source = source_ohm(k);
    const Array distance = (deviation_db(siemens, source) - x[values_ + k]) / scale_db_;
    const Array outer = half_power_ * distance.abs().max(1e-12).pow(half_power_ - 1) / scale_db_;
    const ComplexArray inner = source / (1 + source * siemens);
    for (Eigen::Index i = 0; i < by_value.cols(); ++i)
      slope.col(i).segment(k * n, n) = -db_per_neper * outer * (inner * by_value.col(i)).real();
    slope.col(values_ + k).segment(k * n, n) = -outer;
  }
  const Array below = ((siemens.abs() * goal_.least_ohm).log() > 0).cast<double>();
  for (Eigen::Index i = 0; i < by_value.cols(); ++i)
    slope.col(i).segment(std::size(source_parts) * n, n) =
        floor_weight * below * (by_value.col(i) / siemens).real();
  for (std::size_t i = 0; i < values_; ++i) {
    const PartRange limits = bought(i);
    if (x[i] > limits.high || x[i] < limits.low)
      slope(slope.rows() - values_ + i, i) = bought_weight;
  }
}

Eigen::ArrayXXcd Residuals::slopes(const std::vector<FlattenBranch>& network) const {
  Eigen::ArrayXXcd result(omega_.size(), values_);
  Eigen::Index column = 0;
  const Complex j(0, 1);
  for (const auto& branch : network) {
    const ComplexArray by_ohm = -branch_ohm(branch, goal_.hz).square().inverse();
    result.col(column++) = by_ohm * branch.ohm;
    if (branch.farad) result.col(column++) = by_ohm * j / (*branch.farad * omega_);
    if (branch.henry)
      result.col(column++) = by_ohm * *branch.henry * (goal_.coil_ohm_per_henry + j * omega_);
  }
  return result;
}

/// What network_point() puts at that place, as logarithms.
PartRange Residuals::bought(std::size_t value) const {
  std::size_t i = 0;
  const auto logarithms = [](const PartRange& range) {
    return PartRange{std::log(range.low), std::log(range.high)};
  };
  for (const auto& branch : shape_) {
    if (i++ == value) return logarithms(goal_.ohm);
    if (branch.farad && i++ == value) return logarithms(goal_.farad.value_or(buyable_farad));
    if (branch.henry && i++ == value) return logarithms(goal_.henry.value_or(buyable_henry));
  }
  return {};
}

}  // namespace

std::vector<FlattenBranch> fitted_branches(const FlattenGoal& goal,
                                           const std::vector<FlattenBranch>& start) {
  std::vector<FlattenBranch> best = start;
  double lowest = flatten_cost(goal, best);
  std::vector<FlattenBranch> branches = start;
  for (const double power : {2.0, 6.0, 16.0, 40.0}) {
    Residuals residuals(goal, branches);
    residuals.set_norm(power, std::max(1e-9, residuals.half_span_db(branches)));
    const Eigen::VectorXd x = least_residuals(residuals, residuals.start(), 40, 1e-4);
    if (!x.allFinite()) break;
    branches = residuals.network(x);
    const double cost = flatten_cost(goal, branches);
    if (cost < lowest) {
      lowest = cost;
      best = branches;
    }
  }
  return best;
}

}  // namespace ohmtilt
