#pragma once
// Eigenvalues and singular values as plain functions over dynamic double matrices. Eigen's
// decompositions are templates that cost each file seconds; here they are compiled once, and every
// result keeps its bits.
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

}  // namespace ohmtilt
