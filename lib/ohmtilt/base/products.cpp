#include <ohmtilt/base/products.h>

namespace ohmtilt {

Eigen::MatrixXd product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) { return a * b; }

Eigen::MatrixXd transposed_product(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  return a.transpose() * b;
}

Eigen::MatrixXd product_transposed(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b) {
  return a * b.transpose();
}

}  // namespace ohmtilt
