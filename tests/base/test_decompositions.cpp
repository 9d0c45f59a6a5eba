// What the compiled decompositions promise: each against its definition on random matrices, the
// residual search against minima that are known.
#include <gtest/gtest.h>

#include <ohmtilt/base/array.h>
#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/base/spectrum.h>
#include <ohmtilt/base/trust_region.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <random>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXcd;
using Eigen::MatrixXd;
using Eigen::VectorXd;

class Matrices {
 public:
  explicit Matrices(unsigned seed) : random_(seed) {}
  MatrixXd matrix(Index rows, Index columns) {
    MatrixXd m(rows, columns);
    for (Index j = 0; j < columns; ++j)
      for (Index i = 0; i < rows; ++i) m(i, j) = std::normal_distribution<double>()(random_);
    return m;
  }
  Index size(Index least = 1) { return std::uniform_int_distribution<Index>(least, 24)(random_); }
  /// Of a rank, by its definition as a sum of so many outer products.
  MatrixXd of_rank(Index rows, Index columns, Index rank) {
    MatrixXd sum = MatrixXd::Zero(rows, columns);
    for (Index k = 0; k < rank; ++k)
      sum += matrix(rows, 1).col(0) * matrix(columns, 1).col(0).transpose();
    return sum;
  }

 private:
  std::mt19937 random_;
};

void over_seeds(const std::function<void(Matrices&)>& claim) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    SCOPED_TRACE(seed);
    Matrices draw(seed);
    claim(draw);
  }
}

TEST(Decompositions, ProductsAreSumsOfProducts) {
  over_seeds([](Matrices& draw) {
    const MatrixXd a = draw.matrix(draw.size(), draw.size()),
                   b = draw.matrix(a.cols(), draw.size());
    MatrixXd sum = MatrixXd::Zero(a.rows(), b.cols());
    for (Index i = 0; i < a.rows(); ++i)
      for (Index j = 0; j < b.cols(); ++j)
        for (Index k = 0; k < a.cols(); ++k) sum(i, j) += a(i, k) * b(k, j);
    EXPECT_LE((product(a, b) - sum).cwiseAbs().maxCoeff(), 1e-13);
    EXPECT_LE((transposed_product(a.transpose(), b) - sum).cwiseAbs().maxCoeff(), 1e-13);
    EXPECT_LE((product_transposed(a, b.transpose()) - sum).cwiseAbs().maxCoeff(), 1e-13);
  });
}

TEST(Decompositions, EliminationSolves) {
  over_seeds([](Matrices& draw) {
    const Index n = draw.size();
    const MatrixXd a = draw.matrix(n, n) + 10 * MatrixXd::Identity(n, n), b = draw.matrix(n, 3);
    EXPECT_LE((a * solve_square(a, b) - b).norm(), 1e-12);
    EXPECT_LE((a * FullLu(a).solve(b) - b).norm(), 1e-12);
    const MatrixXcd c = a.cast<Complex>() + Complex(0, 1) * draw.matrix(n, n);
    EXPECT_LE((c * solve_square(c, b.col(0).cast<Complex>().eval()) - b.col(0)).norm(), 1e-12);
    const MatrixXd symmetric = a + a.transpose(), positive = a.transpose() * a;
    EXPECT_LE((symmetric * solve_symmetric(symmetric, b) - b).norm(), 1e-11);
    // Only the lower half is read.
    const MatrixXd lower = positive.triangularView<Eigen::Lower>();
    EXPECT_LE((positive * solve_positive(lower, b.col(0)) - b.col(0)).norm(), 1e-10);
  });
}

TEST(Decompositions, TheNullSpaceIsMappedToNothingAndIsWhole) {
  over_seeds([](Matrices& draw) {
    const Index rows = draw.size(2), columns = draw.size(2);
    const Index rank = std::min({rows, columns, draw.size()});
    const MatrixXd a = draw.of_rank(rows, columns, rank);
    const MatrixXd null = FullLu(a, 1e-10).null_space();
    EXPECT_EQ(null.cols(), columns - rank);
    EXPECT_LE((a * null).norm(), 1e-9 * std::max(1.0, null.norm()));
    EXPECT_EQ(ranked_basis(a, 1e-10).rank, rank);
  });
}

// What is left is at right angles to all columns; of equals the shortest is at right angles to the
// null space.
TEST(Decompositions, LeastSquaresLeaveWhatNoColumnExplains) {
  over_seeds([](Matrices& draw) {
    const Index columns = draw.size(2), rows = columns + draw.size(2);
    const MatrixXd full = draw.matrix(rows, columns);
    const VectorXd b = draw.matrix(rows, 1).col(0);
    for (const auto& x : {least_squares(full, b), refined_least_squares(full, b),
                          least_norm_squares(full, b), singular_least_squares(full, b, 1e-12)})
      EXPECT_LE((full.transpose() * (full * x - b)).norm(), 1e-11);
    const MatrixXd a = draw.of_rank(rows, columns, columns - 1);
    const VectorXd across = FullLu(a, 1e-10).null_space().col(0).normalized();
    for (const auto& x : {least_norm_squares(a, b), singular_least_squares(a, b, 1e-10)}) {
      EXPECT_LE((a.transpose() * (a * x - b)).norm(), 1e-8);
      EXPECT_LE(std::abs(across.dot(x)), 1e-9 * std::max(1.0, x.norm()));
    }
  });
}

TEST(Decompositions, BasesAreOrthonormalAndSpanTheMatrix) {
  over_seeds([](Matrices& draw) {
    const Index columns = draw.size(), rows = columns + draw.size();
    const MatrixXd a = draw.matrix(rows, columns), q = orthonormal_columns(a, columns);
    EXPECT_LE((q.transpose() * q - MatrixXd::Identity(columns, columns)).norm(), 1e-13);
    EXPECT_LE((q * (q.transpose() * a) - a).norm(), 1e-12);
    const RankedBasis whole = ranked_basis(a, 1e-12);
    EXPECT_EQ(whole.rank, columns);
    EXPECT_LE((whole.columns.transpose() * whole.columns - MatrixXd::Identity(rows, rows)).norm(),
              1e-12);
  });
}

TEST(Decompositions, EigenvectorsAreStretched) {
  over_seeds([](Matrices& draw) {
    const Index n = draw.size();
    const MatrixXd a = draw.matrix(n, n);
    const Eigensystem found = eigensystem(a, true);
    ASSERT_TRUE(found.found);
    EXPECT_LE(
        (a.cast<Complex>() * found.vectors - found.vectors * found.values.asDiagonal()).norm(),
        1e-11);
    EXPECT_NEAR(found.values.sum().real(), a.trace(), 1e-11);
  });
}

// Q T Q^T has the trace, the squares and the quadratic forms of the matrix.
TEST(Decompositions, TheTridiagonalFormIsTheMatrixTurned) {
  over_seeds([](Matrices& draw) {
    const Index n = draw.size(2);
    const MatrixXd half = draw.matrix(n, n), a = half + half.transpose();
    const VectorXd v = draw.matrix(n, 1).col(0);
    const TridiagonalForm form = tridiagonal_form(a, v);
    MatrixXd t = form.diagonal.asDiagonal();
    t.diagonal(1) = t.diagonal(-1) = form.below;
    EXPECT_NEAR(t.trace(), a.trace(), 1e-11);
    EXPECT_NEAR(t.squaredNorm(), a.squaredNorm(), 1e-9);
    EXPECT_NEAR(form.turned.norm(), v.norm(), 1e-12);
    EXPECT_NEAR(form.turned.dot(t * form.turned), v.dot(a * v), 1e-10);
  });
}

// ---- the search for least residuals
// ---------------------------------------------------------------

/// Residuals and derivatives as plain functions.
struct Problem : ResidualFunction {
  int inputs = 0, outputs = 0;
  std::function<VectorXd(const VectorXd&)> r;
  std::function<MatrixXd(const VectorXd&)> j;
  int parameters() const override { return inputs; }
  int residuals() const override { return outputs; }
  void value(const VectorXd& x, VectorXd& result) const override { result = r(x); }
  void jacobian(const VectorXd& x, MatrixXd& result) const override { result = j(x); }
};

Problem problem(int inputs, int outputs, std::function<VectorXd(const VectorXd&)> r,
                std::function<MatrixXd(const VectorXd&)> j) {
  Problem made;
  made.inputs = inputs;
  made.outputs = outputs;
  made.r = std::move(r);
  made.j = std::move(j);
  return made;
}

TEST(LeastResiduals, ResidualsThatAreLinearHaveTheLeastSquares) {
  over_seeds([](Matrices& draw) {
    const Index columns = draw.size(), rows = columns + draw.size();
    const MatrixXd a = draw.matrix(rows, columns);
    const VectorXd b = draw.matrix(rows, 1).col(0);
    const Problem linear = problem(
        int(columns), int(rows), [&](const VectorXd& x) -> VectorXd { return a * x - b; },
        [&](const VectorXd&) { return a; });
    const VectorXd x = least_residuals(linear, VectorXd::Zero(columns), 400, 1e-14);
    EXPECT_LE((x - least_squares(a, b)).norm(), 1e-9);
  });
}

// Rosenbrock 1960: 10 (y - x^2) and 1 - x from (-1.2, 1); 0 at (1, 1).
TEST(LeastResiduals, FindTheEndOfRosenbrocksValley) {
  const Problem valley = problem(
      2, 2,
      [](const VectorXd& x) -> VectorXd {
        return Eigen::Vector2d(10 * (x[1] - x[0] * x[0]), 1 - x[0]);
      },
      [](const VectorXd& x) -> MatrixXd {
        return (Eigen::Matrix2d() << -20 * x[0], 10, -1, 0).finished();
      });
  const VectorXd x = least_residuals(valley, Eigen::Vector2d(-1.2, 1), 400, 1e-14);
  EXPECT_NEAR(x[0], 1, 1e-8);
  EXPECT_NEAR(x[1], 1, 1e-8);
}

// Freudenstein and Roth's function from (0.5, -2) ends in the minimum that is not 0 (problem 2 of
// More, Garbow and Hillstrom 1981, from memory: 48.9842). COMPUTED: SciPy 1.10.1,
// least_squares(method="lm", xtol=ftol=gtol=1e-14).
TEST(LeastResiduals, EndInTheNearerMinimumAsSciPyDoes) {
  const Problem two = problem(
      2, 2,
      [](const VectorXd& x) -> VectorXd {
        return Eigen::Vector2d(-13 + x[0] + ((5 - x[1]) * x[1] - 2) * x[1],
                               -29 + x[0] + ((x[1] + 1) * x[1] - 14) * x[1]);
      },
      [](const VectorXd& x) -> MatrixXd {
        const double y = x[1];
        return (Eigen::Matrix2d() << 1, 10 * y - 3 * y * y - 2, 1, 3 * y * y + 2 * y - 14)
            .finished();
      });
  const VectorXd x = least_residuals(two, Eigen::Vector2d(0.5, -2), 400, 1e-14);
  EXPECT_NEAR(x[0], 11.41277889, 1e-4);
  EXPECT_NEAR(x[1], -0.89680525, 1e-5);
  EXPECT_NEAR(two.r(x).squaredNorm(), 48.984253679240084, 1e-9);
}

// Bard 1970: y ~ x1 + u / (v x2 + w x3) on 15 points (problem 8 of More, Garbow and Hillstrom 1981,
// data and the minimum 8.21487e-3 from memory). COMPUTED: SciPy 1.10.1 as above.
TEST(LeastResiduals, FitBardsFifteenPointsAsSciPyDoes) {
  constexpr std::array<double, 15> y{0.14, 0.18, 0.22, 0.25, 0.29, 0.32, 0.35, 0.39,
                                     0.37, 0.58, 0.73, 0.96, 1.34, 2.10, 4.39};
  const auto terms = [](Index i) {
    const double u = double(i + 1), v = 16 - u;
    return std::array<double, 3>{u, v, std::min(u, v)};
  };
  const Problem bard = problem(
      3, 15,
      [&](const VectorXd& x) -> VectorXd {
        VectorXd r(15);
        for (Index i = 0; i < 15; ++i) {
          const auto [u, v, w] = terms(i);
          r[i] = y[std::size_t(i)] - (x[0] + u / (v * x[1] + w * x[2]));
        }
        return r;
      },
      [&](const VectorXd& x) -> MatrixXd {
        MatrixXd j(15, 3);
        for (Index i = 0; i < 15; ++i) {
          const auto [u, v, w] = terms(i);
          const double square = std::pow(v * x[1] + w * x[2], 2);
          j.row(i) << -1, u * v / square, u * w / square;
        }
        return j;
      });
  const VectorXd x = least_residuals(bard, VectorXd::Ones(3), 400, 1e-14);
  EXPECT_NEAR(x[0], 0.08241056, 1e-6);
  EXPECT_NEAR(x[1], 1.13303607, 1e-6);
  EXPECT_NEAR(x[2], 2.3436952, 1e-6);
  EXPECT_NEAR(bard.r(x).squaredNorm(), 0.008214877306578987, 1e-15);
}

TEST(LeastResiduals, StopAtTheGivenNumberOfEvaluations) {
  int asked = 0;
  const Problem endless = problem(
      1, 1,
      [&](const VectorXd& x) -> VectorXd {
        ++asked;
        return VectorXd::Constant(1, std::exp(-x[0]));
      },
      [](const VectorXd& x) -> MatrixXd { return MatrixXd::Constant(1, 1, -std::exp(-x[0])); });
  least_residuals(endless, VectorXd::Zero(1), 5, 0);
  EXPECT_LE(asked, 7);
}

}  // namespace
}  // namespace ohmtilt
