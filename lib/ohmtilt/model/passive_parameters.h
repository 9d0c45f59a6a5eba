#pragma once
// The parameters that passive_fit.h moves: logarithms of positive quantities that disturb each
// other little, and the exact derivatives of the impedance.
#include <ohmtilt/model/passive_model.h>
#include <Eigen/Core>

namespace ohmtilt {

/// One block as the fit sees it. theta: resistor ln ohm; inductor ln henry; capacitor ln farad;
/// lossy inductor ln |Z| at 1 kHz and ln(n/(1-n)); the parallel pairs ln ohm, ln corner (rad/s);
/// the resonance ln ohm, ln resonance (rad/s), ln Q.
struct FitBlock {
  BlockKind kind = BlockKind::resistor;
  Eigen::Vector3d theta = Eigen::Vector3d::Zero();
};
using FitChain = std::vector<FitBlock>;

/// Chain 0 is in series with the parallel connection of the others.
struct FitModel {
  std::vector<FitChain> chains;
};

int parameter_count(BlockKind kind);
int parameter_count(const FitModel& model);

Eigen::VectorXd parameters(const FitModel& model);
FitModel with_parameters(FitModel model, const Eigen::VectorXd& theta);

ModelBlock model_block(const FitBlock& block);
PassiveModel passive_model(const FitModel& model);

/// Impedance, its derivatives by every parameter (one column each) and by every chain's impedance.
struct FitPoint {
  ComplexArray z;
  Eigen::ArrayXXcd by_parameter;
  Eigen::ArrayXXcd by_chain;
};
FitPoint fit_point(const FitModel& model, const Array& w);

/// Impedance of one block at w (rad/s).
ComplexArray block_impedance(const FitBlock& block, const Array& w);

}  // namespace ohmtilt
