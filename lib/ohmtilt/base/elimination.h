#pragma once
// Systems of equations by elimination as plain functions over dynamic double matrices. Eigen's
// decompositions are templates that cost each file seconds; here they are compiled once, and every
// result keeps its bits.
#include <memory>

#include <Eigen/Core>

namespace ohmtilt {

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

}  // namespace ohmtilt
