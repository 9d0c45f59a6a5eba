#include <ohmtilt/base/elimination.h>

#include <Eigen/Cholesky>
#include <Eigen/LU>

namespace ohmtilt {

using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXcd;
using Eigen::VectorXd;

VectorXd solve_symmetric(const MatrixXd& a, const VectorXd& b) { return a.ldlt().solve(b); }

MatrixXd solve_symmetric(const MatrixXd& a, const MatrixXd& b) { return a.ldlt().solve(b); }

VectorXd solve_positive(const MatrixXd& a, const VectorXd& b) {
  return a.selfadjointView<Eigen::Lower>().llt().solve(b);
}

MatrixXd solve_square(const MatrixXd& a, const MatrixXd& b) {
  // Eigen takes the address of a right side even where it is empty.
  if (b.size() == 0) return MatrixXd::Zero(a.cols(), b.cols());
  return a.partialPivLu().solve(b);
}

VectorXcd solve_square(const MatrixXcd& a, const VectorXcd& b) { return a.partialPivLu().solve(b); }

struct FullLu::Decomposition {
  Eigen::FullPivLU<MatrixXd> of;
};

FullLu::FullLu(const MatrixXd& matrix, double threshold)
    : lu_(new Decomposition{Eigen::FullPivLU<MatrixXd>(matrix)}) {
  if (threshold > 0) lu_->of.setThreshold(threshold);
}

FullLu::~FullLu() = default;

VectorXd FullLu::solve(const VectorXd& b) const { return lu_->of.solve(b); }

MatrixXd FullLu::solve(const MatrixXd& b) const {
  if (b.size() == 0) return MatrixXd::Zero(lu_->of.cols(), b.cols());
  return lu_->of.solve(b);
}

MatrixXd FullLu::null_space() const {
  if (lu_->of.dimensionOfKernel() == 0) return MatrixXd(lu_->of.cols(), 0);
  return lu_->of.kernel();
}

}  // namespace ohmtilt
