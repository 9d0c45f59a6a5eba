#pragma once
// Eigenvalues, singular values and tridiagonal forms as plain functions over dynamic double
// matrices. Eigen's decompositions are templates that cost each file seconds; here they are
// compiled once, and every result keeps its bits.
#include <Eigen/Core>

namespace ohmtilt {

/// x of least |a x - b| with the smallest |x| among equals, by singular values; those below
/// threshold of the largest count as nothing.
Eigen::VectorXd singular_least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b,
                                       double threshold);

struct Eigensystem {
  Eigen::VectorXcd values;
  Eigen::MatrixXcd vectors;  ///< columns, in the order of values; only where they were asked for
  bool found = false;        ///< the iteration converged
};
Eigensystem eigensystem(const Eigen::MatrixXd& matrix, bool with_vectors);

/// A symmetric matrix as Q T Q^T with an orthogonal Q and a tridiagonal T; the vector has as many
/// rows as the matrix.
struct TridiagonalForm {
  Eigen::VectorXd diagonal, below;  ///< of T
  Eigen::VectorXd turned;           ///< Q^T times the vector
};
TridiagonalForm tridiagonal_form(const Eigen::MatrixXd& symmetric, const Eigen::VectorXd& vector);

}  // namespace ohmtilt
