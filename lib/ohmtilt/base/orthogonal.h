#pragma once
// Least squares and bases by QR as plain functions over dynamic double matrices. Eigen's
// decompositions are templates that cost each file seconds; here they are compiled once, and every
// result keeps its bits.
#include <Eigen/Core>

namespace ohmtilt {

/// x of least |a x - b|, by Householder QR with column pivoting. Dimensionless, as all here: rows
/// of a as b, columns as x; where columns depend on others, these get zeros.
Eigen::VectorXd least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
Eigen::MatrixXd least_squares(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
/// The same, and what is left of b solved for once more.
Eigen::VectorXd refined_least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
/// The same with the smallest |x| among equals, by a complete orthogonal decomposition.
Eigen::VectorXd least_norm_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
/// The first columns of an orthogonal matrix of which those of matrix are spanned, by Householder
/// QR: rows(matrix) x count.
Eigen::MatrixXd orthonormal_columns(const Eigen::MatrixXd& matrix, Eigen::Index count);

/// The whole orthogonal matrix by QR with column pivoting, and the rank of matrix.
struct RankedBasis {
  Eigen::MatrixXd columns;  ///< the first rank of them span what those of matrix span
  Eigen::Index rank = 0;
};
RankedBasis ranked_basis(const Eigen::MatrixXd& matrix, double threshold);

}  // namespace ohmtilt
