#include <ohmtilt/base/orthogonal.h>

#include <Eigen/QR>

namespace ohmtilt {

using Eigen::Index;
using Eigen::MatrixXd;
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

MatrixXd orthonormal_columns(const MatrixXd& matrix, Index count) {
  const Eigen::HouseholderQR<MatrixXd> qr(matrix);
  return qr.householderQ() * MatrixXd::Identity(matrix.rows(), count);
}

RankedBasis ranked_basis(const MatrixXd& matrix, double threshold) {
  Eigen::ColPivHouseholderQR<MatrixXd> qr(matrix);
  qr.setThreshold(threshold);
  return {qr.householderQ() * MatrixXd::Identity(matrix.rows(), matrix.rows()), qr.rank()};
}

}  // namespace ohmtilt
