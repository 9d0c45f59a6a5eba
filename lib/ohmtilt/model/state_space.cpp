#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/base/products.h>
#include <ohmtilt/base/spectrum.h>
#include <ohmtilt/model/state_space.h>
#include <ohmtilt/text/error.h>

#include <cmath>

namespace ohmtilt {
namespace {

/// The closed loop that holds y = c x + d u + proportional u' at zero, proportional != 0: u becomes
/// a state.
Eigen::MatrixXd with_proportional_term(const StateSpace& system, double proportional) {
  const Eigen::Index n = system.b.size();
  // u is scaled so that both couplings have the size of sqrt(|b| |c| / proportional).
  const double input = system.b.norm(), output = system.c.norm();
  const double scale =
      input > 0 && output > 0 ? std::sqrt(output / (std::abs(proportional) * input)) : 1;
  Eigen::MatrixXd m(n + 1, n + 1);
  m.topLeftCorner(n, n) = system.a;
  m.topRightCorner(n, 1) = system.b * scale;
  m.bottomLeftCorner(1, n) = -system.c / (proportional * scale);
  m(n, n) = -system.d / proportional;
  return m;
}

/// The same for d = proportional = 0: y' = c A x + c b u = 0 within the null space of c.
Eigen::MatrixXd strictly_proper(const StateSpace& system) {
  const Eigen::Index n = system.b.size();
  const double gain = system.c * system.b;
  if (!(std::abs(gain) > 1e-14 * system.c.norm() * system.b.norm()))
    throw InputError("the impedance vanishes faster than 1/s at high frequency",
                     "give it a resistance, or check the residues");
  const Eigen::MatrixXd inner = system.a - system.b * (system.c * system.a) / gain;
  const Eigen::MatrixXd q = orthonormal_columns(system.c.transpose(), n);
  const auto null_space = q.rightCols(n - 1);
  return product(transposed_product(null_space, inner), null_space);
}

}  // namespace

StateSpace state_space(const RationalModel& model) {
  const Eigen::Index n = model.order();
  StateSpace system{Eigen::MatrixXd::Zero(n, n), Eigen::VectorXd::Zero(n),
                    Eigen::RowVectorXd::Zero(n), model.constant};
  Eigen::Index i = 0;
  for (const RealPole& term : model.real) {
    const double size = std::sqrt(std::abs(term.residue));
    system.a(i, i) = term.pole;
    system.b[i] = size;
    system.c[i] = std::copysign(size, term.residue);
    ++i;
  }
  for (const PolePair& term : model.pairs) {
    const double size = std::sqrt(std::abs(term.residue));
    const double re = term.pole.real(), im = term.pole.imag();
    system.a.block<2, 2>(i, i) << re, im, -im, re;
    system.b[i] = 2 * size;
    if (size > 0) system.c.segment<2>(i) << term.residue.real() / size, term.residue.imag() / size;
    i += 2;
  }
  return system;
}

std::vector<Complex> eigenvalues(const Eigen::MatrixXd& matrix) {
  if (matrix.size() == 0) return {};
  const Eigensystem solved = eigensystem(matrix, false);
  if (!solved.found)
    throw InputError("the modes of this model could not be found", "lower its order");
  const auto& values = solved.values;
  return {values.data(), values.data() + values.size()};
}

std::vector<Complex> transmission_zeros(const StateSpace& system, double proportional) {
  if (proportional != 0) return eigenvalues(with_proportional_term(system, proportional));
  if (system.d != 0) return eigenvalues(system.a - system.b * system.c / system.d);
  if (system.b.size() == 0)
    throw InputError("an impedance of zero has no modes of its own", "give it a part");
  return eigenvalues(strictly_proper(system));
}

}  // namespace ohmtilt
