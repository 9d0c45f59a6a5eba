// What every unit's cost is measured against (tools/build-cost): the headers that most of them
// need, and one decomposition. It does nothing.
#include <Eigen/Core>
#include <Eigen/QR>
#include <algorithm>
#include <functional>
#include <map>
#include <string>
#include <vector>

double reference(const Eigen::MatrixXd& a, const Eigen::VectorXd& b) {
  return a.colPivHouseholderQr().solve(b).sum();
}
