#include <ohmtilt/base/spectrum.h>

#include <Eigen/Eigenvalues>
#include <Eigen/SVD>

namespace ohmtilt {

using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

VectorXd singular_least_squares(const MatrixXd& a, const VectorXd& b, double threshold) {
  Eigen::JacobiSVD<MatrixXd> svd(a, Eigen::ComputeThinU | Eigen::ComputeThinV);
  svd.setThreshold(threshold);
  return svd.solve(b);
}

Eigensystem eigensystem(const MatrixXd& matrix, bool with_vectors) {
  const Eigen::EigenSolver<MatrixXd> solver(matrix, with_vectors);
  const bool found = solver.info() == Eigen::Success;
  return {solver.eigenvalues(), with_vectors && found ? solver.eigenvectors() : MatrixXcd(), found};
}

TridiagonalForm tridiagonal_form(const MatrixXd& symmetric, const VectorXd& vector) {
  const Eigen::Tridiagonalization<MatrixXd> form(symmetric);
  return {form.diagonal(), form.subDiagonal(), form.matrixQ().transpose() * vector};
}

}  // namespace ohmtilt
