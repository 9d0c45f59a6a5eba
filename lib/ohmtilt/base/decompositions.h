#pragma once
// Matrix decompositions as plain functions over dynamic double matrices. Eigen's are templates that
// cost each file seconds; here they are compiled once, and every result keeps its bits.
#include <memory>

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
/// The same by singular values; those below threshold of the largest count as nothing.
Eigen::VectorXd singular_least_squares(const Eigen::MatrixXd& a, const Eigen::VectorXd& b,
                                       double threshold);

/// a x = b for a symmetric a, by L D L^T with pivoting; only the lower half of a is read.
Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
Eigen::MatrixXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
/// a x = b for a symmetric and positive definite a, by L L^T; only the lower half of a is read.
Eigen::VectorXd solve_positive(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);

/// a x = b for a square, regular a, by LU with row pivoting.
Eigen::MatrixXd solve_square(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
Eigen::VectorXcd solve_square(const Eigen::MatrixXcd& a, const Eigen::VectorXcd& b);

/// LU with full pivoting, for matrices of any rank; pivots below threshold of the largest count as
/// nothing (0: Eigen's own).
class FullLu {
 public:
  explicit FullLu(const Eigen::MatrixXd& matrix, double threshold = 0);
  ~FullLu();
  Eigen::VectorXd solve(const Eigen::VectorXd& b) const;
  /// Also for a right side without columns.
  Eigen::MatrixXd solve(const Eigen::MatrixXd& b) const;
  /// Columns that span the null space; none where it is empty.
  Eigen::MatrixXd null_space() const;

 private:
  struct Decomposition;
  std::unique_ptr<Decomposition> lu_;
};

/// The first columns of an orthogonal matrix of which those of matrix are spanned, by Householder
/// QR: rows(matrix) x count.
Eigen::MatrixXd orthonormal_columns(const Eigen::MatrixXd& matrix, Eigen::Index count);

/// The whole orthogonal matrix by QR with column pivoting, and the rank of matrix.
struct RankedBasis {
  Eigen::MatrixXd columns;  ///< the first rank of them span what those of matrix span
  Eigen::Index rank = 0;
};
RankedBasis ranked_basis(const Eigen::MatrixXd& matrix, double threshold);

struct Eigensystem {
  Eigen::VectorXcd values;
  Eigen::MatrixXcd vectors;  ///< columns, in the order of values; only where they were asked for
  bool found = false;        ///< the iteration converged
};
Eigensystem eigensystem(const Eigen::MatrixXd& matrix, bool with_vectors);

}  // namespace ohmtilt
