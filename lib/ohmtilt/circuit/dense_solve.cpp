#include <ohmtilt/circuit/dense_solve.h>

#include <Eigen/LU>
#include <limits>

namespace ohmtilt {
namespace {

// Powers of two that bring each row, then each column, near 1: no rounding is added.
struct Scales {
  Eigen::VectorXd row, column;
};

Eigen::VectorXd power_of_two_inverses(const Eigen::VectorXd& maxima) {
  return maxima.unaryExpr(
      [](double m) { return m > 0 ? std::exp2(-std::round(std::log2(m))) : 1; });
}

Scales scales_of(const Eigen::MatrixXcd& matrix) {
  Scales scales;
  const Eigen::MatrixXd magnitude = matrix.cwiseAbs();
  scales.row = power_of_two_inverses(magnitude.rowwise().maxCoeff());
  const Eigen::MatrixXd rows_done = scales.row.asDiagonal() * magnitude;
  scales.column = power_of_two_inverses(rows_done.colwise().maxCoeff().transpose());
  return scales;
}

Eigen::MatrixXcd scaled(const Eigen::MatrixXcd& matrix, const Scales& scales) {
  return scales.row.cast<Complex>().asDiagonal() * matrix *
         scales.column.cast<Complex>().asDiagonal();
}

}  // namespace

std::optional<std::vector<Eigen::VectorXcd>> solve_dense(const Eigen::MatrixXcd& matrix,
                                                         const std::vector<DenseSide>& sides) {
  if (!matrix.allFinite()) return std::nullopt;
  const Scales scales = scales_of(matrix);
  const Eigen::PartialPivLU<Eigen::MatrixXcd> lu(scaled(matrix, scales));
  if (!(lu.rcond() > 2 * std::numeric_limits<double>::epsilon())) return std::nullopt;
  std::vector<Eigen::VectorXcd> result;
  for (const auto& side : sides) {
    const auto& inward = side.transposed ? scales.column : scales.row;
    const auto& outward = side.transposed ? scales.row : scales.column;
    const auto once = [&](const Eigen::VectorXcd& b) -> Eigen::VectorXcd {
      const Eigen::VectorXcd in = b.cwiseProduct(inward.cast<Complex>());
      const Eigen::VectorXcd out =
          side.transposed ? Eigen::VectorXcd(lu.transpose().solve(in)) : lu.solve(in);
      return out.cwiseProduct(outward.cast<Complex>());
    };
    Eigen::VectorXcd x = once(side.values);
    const Eigen::VectorXcd ax =
        side.transposed ? Eigen::VectorXcd(matrix.transpose() * x) : Eigen::VectorXcd(matrix * x);
    x += once(side.values - ax);
    if (!x.allFinite()) return std::nullopt;
    result.push_back(std::move(x));
  }
  return result;
}

int loose_unknown(const Eigen::MatrixXcd& matrix) {
  if (!matrix.allFinite()) return 0;
  const Scales scales = scales_of(matrix);
  Eigen::FullPivLU<Eigen::MatrixXcd> lu(scaled(matrix, scales));
  lu.setThreshold(1e-13);
  Eigen::Index index = 0;
  const Eigen::VectorXcd null_vector = lu.kernel().col(0);
  null_vector.cwiseProduct(scales.column.cast<Complex>()).cwiseAbs().maxCoeff(&index);
  return static_cast<int>(index);
}

}  // namespace ohmtilt
