#pragma once
#include <optional>
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt {

struct DenseSide {
  Eigen::VectorXcd values;
  bool transposed = false;
};

/// Solutions of A x = b (or A^T x = b) by LU with row pivoting on the equilibrated matrix, refined
/// once; nothing when the matrix is singular to working precision.
std::optional<std::vector<Eigen::VectorXcd>> solve_dense(const Eigen::MatrixXcd& matrix,
                                                         const std::vector<DenseSide>& sides);

/// The unknown that a singular matrix leaves open: the largest of its null vector.
int loose_unknown(const Eigen::MatrixXcd& matrix);

}  // namespace ohmtilt
