#include <ohmtilt/base/reciprocal.h>
#include <ohmtilt/model/passive_parameters.h>

#include <cmath>
#include <numbers>

namespace ohmtilt {
namespace {

using Eigen::Index;
constexpr double reference = 2 * std::numbers::pi * 1000;  ///< rad/s, of the lossy inductor

double exponent(double theta) { return 1 / (1 + std::exp(-theta)); }

ComplexArray imaginary(const Array& w) {
  ComplexArray z = ComplexArray::Zero(w.size());
  z.imag() = w;
  return z;
}

/// Impedance of a block in z and its derivatives in the next columns of by_theta.
struct BlockPoint {
  ComplexArray z;
  Eigen::ArrayXXcd by_theta;
};

BlockPoint scaled_only(ComplexArray z, double sign) {
  BlockPoint point{std::move(z), {}};
  point.by_theta = sign * point.z;
  return point;
}

BlockPoint lossy_point(const FitBlock& block, const Array& w) {
  const double n = exponent(block.theta[1]);
  const double size = std::exp(block.theta[0]);
  const Array ln_ratio = (w / reference).log();
  const Complex turn = std::polar(1.0, n * std::numbers::pi / 2);
  BlockPoint point{(size * turn) * (n * ln_ratio).exp().cast<Complex>(),
                   Eigen::ArrayXXcd(w.size(), 2)};
  ComplexArray ln_s(w.size());
  ln_s.real() = ln_ratio;
  ln_s.imag().setConstant(std::numbers::pi / 2);
  point.by_theta.col(0) = point.z;
  point.by_theta.col(1) = point.z * ln_s * (n * (1 - n));
  return point;
}

BlockPoint falling_point(const FitBlock& block, const Array& w) {
  const ComplexArray x = imaginary(w * std::exp(-block.theta[1]));
  const ComplexArray inverse = reciprocal(1.0 + x);
  BlockPoint point{std::exp(block.theta[0]) * inverse, Eigen::ArrayXXcd(w.size(), 2)};
  point.by_theta.col(0) = point.z;
  point.by_theta.col(1) = point.z * x * inverse;
  return point;
}

BlockPoint rising_point(const FitBlock& block, const Array& w) {
  const ComplexArray x = imaginary(w * std::exp(-block.theta[1]));
  const ComplexArray inverse = reciprocal(1.0 + x);
  BlockPoint point{std::exp(block.theta[0]) * x * inverse, Eigen::ArrayXXcd(w.size(), 2)};
  point.by_theta.col(0) = point.z;
  point.by_theta.col(1) = -point.z * inverse;
  return point;
}

BlockPoint resonance_point(const FitBlock& block, const Array& w) {
  const Array ratio = w * std::exp(-block.theta[1]);
  const double q = std::exp(block.theta[2]);
  const ComplexArray detuning = imaginary(q * (ratio - ratio.inverse()));
  const ComplexArray inverse = reciprocal(1.0 + detuning);
  BlockPoint point{std::exp(block.theta[0]) * inverse, Eigen::ArrayXXcd(w.size(), 3)};
  point.by_theta.col(0) = point.z;
  point.by_theta.col(1) = point.z * inverse * imaginary(q * (ratio + ratio.inverse()));
  point.by_theta.col(2) = -point.z * inverse * detuning;
  return point;
}

BlockPoint block_point(const FitBlock& block, const Array& w) {
  const double size = std::exp(block.theta[0]);
  switch (block.kind) {
    case BlockKind::resistor:
      return scaled_only(ComplexArray::Constant(w.size(), size), 1);
    case BlockKind::inductor:
      return scaled_only(imaginary(w * size), 1);
    case BlockKind::capacitor:
      return scaled_only(imaginary(-(w * size).inverse()), -1);
    case BlockKind::lossy_inductor:
      return lossy_point(block, w);
    case BlockKind::resistor_capacitor:
      return falling_point(block, w);
    case BlockKind::resistor_inductor:
      return rising_point(block, w);
    case BlockKind::resonance:
      return resonance_point(block, w);
  }
  return {};
}

template <class Visit>
void each_block(const FitModel& model, const Visit& visit) {
  Index at = 0;
  for (std::size_t chain = 0; chain < model.chains.size(); ++chain)
    for (const FitBlock& block : model.chains[chain]) {
      visit(chain, block, at);
      at += parameter_count(block.kind);
    }
}

}  // namespace

int parameter_count(BlockKind kind) {
  switch (kind) {
    case BlockKind::resistor:
    case BlockKind::inductor:
    case BlockKind::capacitor:
      return 1;
    case BlockKind::lossy_inductor:
    case BlockKind::resistor_capacitor:
    case BlockKind::resistor_inductor:
      return 2;
    case BlockKind::resonance:
      return 3;
  }
  return 0;
}

int parameter_count(const FitModel& model) {
  int count = 0;
  each_block(model, [&](std::size_t, const FitBlock& block, Index) {
    count += parameter_count(block.kind);
  });
  return count;
}

Eigen::VectorXd parameters(const FitModel& model) {
  Eigen::VectorXd theta(parameter_count(model));
  each_block(model, [&](std::size_t, const FitBlock& block, Index at) {
    const int count = parameter_count(block.kind);
    theta.segment(at, count) = block.theta.head(count);
  });
  return theta;
}

FitModel with_parameters(FitModel model, const Eigen::VectorXd& theta) {
  Index at = 0;
  for (FitChain& chain : model.chains)
    for (FitBlock& block : chain) {
      const int count = parameter_count(block.kind);
      block.theta.head(count) = theta.segment(at, count);
      at += count;
    }
  return model;
}

ModelBlock model_block(const FitBlock& block) {
  ModelBlock result;
  result.kind = block.kind;
  const double size = std::exp(block.theta[0]), w0 = std::exp(block.theta[1]);
  const double q = std::exp(block.theta[2]);
  switch (block.kind) {
    case BlockKind::resistor:
      result.ohm = size;
      break;
    case BlockKind::inductor:
      result.henry = size;
      break;
    case BlockKind::capacitor:
      result.farad = size;
      break;
    case BlockKind::lossy_inductor:
      result.n = exponent(block.theta[1]);
      result.k = size * std::pow(reference, -result.n);
      break;
    case BlockKind::resistor_capacitor:
      result.ohm = size;
      result.farad = 1 / (w0 * size);
      break;
    case BlockKind::resistor_inductor:
      result.ohm = size;
      result.henry = size / w0;
      break;
    case BlockKind::resonance:
      result.ohm = size;
      result.henry = size / (w0 * q);
      result.farad = q / (w0 * size);
      break;
  }
  return result;
}

PassiveModel passive_model(const FitModel& model) {
  PassiveModel result;
  for (std::size_t chain = 0; chain < model.chains.size(); ++chain) {
    BlockChain elements;
    for (const FitBlock& block : model.chains[chain]) elements.push_back(model_block(block));
    if (chain == 0)
      result.common = std::move(elements);
    else
      result.branches.push_back(std::move(elements));
  }
  return result;
}

FitPoint fit_point(const FitModel& model, const Array& w) {
  const Index chains = static_cast<Index>(model.chains.size());
  Eigen::ArrayXXcd z = Eigen::ArrayXXcd::Zero(w.size(), chains);
  FitPoint point{{}, Eigen::ArrayXXcd(w.size(), parameter_count(model)), {}};
  each_block(model, [&](std::size_t chain, const FitBlock& block, Index at) {
    const BlockPoint one = block_point(block, w);
    z.col(static_cast<Index>(chain)) += one.z;
    point.by_parameter.middleCols(at, one.by_theta.cols()) = one.by_theta;
  });
  for (Index chain = 1; chain < chains; ++chain) z.col(chain) = reciprocal(z.col(chain));
  const auto admittances = z.rightCols(chains - 1);
  const ComplexArray parallel = reciprocal(admittances.rowwise().sum());
  point.z = z.col(0) + parallel;
  // d parallel / d z_branch = (parallel / z_branch)^2.
  point.by_chain = Eigen::ArrayXXcd::Ones(w.size(), chains);
  point.by_chain.rightCols(chains - 1) = (admittances.colwise() * parallel).square();
  each_block(model, [&](std::size_t chain, const FitBlock& block, Index at) {
    for (int i = 0; i < parameter_count(block.kind); ++i)
      point.by_parameter.col(at + i) *= point.by_chain.col(static_cast<Index>(chain));
  });
  return point;
}

ComplexArray block_impedance(const FitBlock& block, const Array& w) {
  return block_point(block, w).z;
}

}  // namespace ohmtilt
