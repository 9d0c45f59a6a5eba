#pragma once
// Products of two real matrices as plain functions. Eigen's are templates that cost each file a
// second; here they are compiled once, and every result keeps its bits.
#include <Eigen/Core>

namespace ohmtilt {

/// a b; b has as many rows as a has columns.
Eigen::MatrixXd product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
/// a^T b; both have as many rows.
Eigen::MatrixXd transposed_product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
/// a b^T; both have as many columns.
Eigen::MatrixXd product_transposed(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);

}  // namespace ohmtilt
