#include <ohmtilt/base/decompositions.h>

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/LU>
#include <Eigen/QR>
#include <Eigen/SVD>

namespace ohmtilt {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXcd;
using Eigen::VectorXd;

VectorXd least_squares(const MatrixXd& a, const VectorXd& b) {
  return a.colPivHouseholderQr().solve(b);
}

MatrixXd least_squares(const MatrixXd& a, const MatrixXd& b) {
  return a.colPivHouseholderQr().solve(b);
}

VectorXd refined_least_squares(const MatrixXd& a, const VectorXd& b) {
  const Eigen::ColPivHouseholderQR<MatrixXd> qr(a);
  VectorXd found = qr.solve(b);
  found += qr.solve(b - a * found);
  return found;
}

VectorXd least_norm_squares(const MatrixXd& a, const VectorXd& b) {
  return a.completeOrthogonalDecomposition().solve(b);
}

VectorXd singular_least_squares(const MatrixXd& a, const VectorXd& b, double threshold) {
  Eigen::JacobiSVD<MatrixXd> svd(a, Eigen::ComputeThinU | Eigen::ComputeThinV);
  svd.setThreshold(threshold);
  return svd.solve(b);
}

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

MatrixXd orthonormal_columns(const MatrixXd& matrix, Index count) {
  const Eigen::HouseholderQR<MatrixXd> qr(matrix);
  return qr.householderQ() * MatrixXd::Identity(matrix.rows(), count);
}

RankedBasis ranked_basis(const MatrixXd& matrix, double threshold) {
  Eigen::ColPivHouseholderQR<MatrixXd> qr(matrix);
  qr.setThreshold(threshold);
  return {qr.householderQ() * MatrixXd::Identity(matrix.rows(), matrix.rows()), qr.rank()};
}

Eigensystem eigensystem(const MatrixXd& matrix, bool with_vectors) {
  const Eigen::EigenSolver<MatrixXd> solver(matrix, with_vectors);
  const bool found = solver.info() == Eigen::Success;
  return {solver.eigenvalues(), with_vectors && found ? solver.eigenvectors() : MatrixXcd(), found};
}

}  // namespace ohmtilt
