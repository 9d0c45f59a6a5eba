// The rational half of passive_model.h.
#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/model/passive_model.h>
#include <ohmtilt/text/error.h>

#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Least squares with values >= 0: what comes out negative is left out, the worst first. Enough
/// here, where the exact answer is positive and only neighbours trade.
VectorXd without_negatives(const MatrixXd& columns, const VectorXd& right) {
  std::vector<Index> kept(static_cast<std::size_t>(columns.cols()));
  for (std::size_t i = 0; i < kept.size(); ++i) kept[i] = static_cast<Index>(i);
  VectorXd result = VectorXd::Zero(columns.cols());
  while (!kept.empty()) {
    const MatrixXd used = columns(Eigen::all, kept);
    const VectorXd found = least_squares(used, right);
    Index worst = 0;
    if (found.minCoeff(&worst) >= 0) {
      for (std::size_t i = 0; i < kept.size(); ++i) result[kept[i]] = found[static_cast<Index>(i)];
      break;
    }
    kept.erase(kept.begin() + worst);
  }
  return result;
}

/// Corners of the R-L sections in rad/s: equal steps of ln f, the outermost so many steps beyond
/// the ends of the band.
Array corners(const Band& band, int sections, double beyond) {
  const double low = std::log(two_pi * band.low_hz), high = std::log(two_pi * band.high_hz);
  const double step = (high - low) / std::max(1.0, sections - 1 - 2 * beyond);
  const double first = (low + high) / 2 - step * (sections - 1) / 2;
  return Array::LinSpaced(sections, first, first + step * (sections - 1)).exp();
}

/// Rows: real and imaginary parts over k (jw)^n; columns: 1, s, s/(s + corner).
MatrixXd section_columns(const Array& w, const ComplexArray& exact, const Array& corner) {
  MatrixXd columns(2 * w.size(), corner.size() + 2);
  const auto put = [&](Index at, const ComplexArray& values) {
    const ComplexArray relative = values / exact;
    columns.col(at) << relative.real(), relative.imag();
  };
  const ComplexArray s = Complex(0, 1) * w.cast<Complex>();
  put(0, ComplexArray::Ones(w.size()));
  put(1, s / w[w.size() - 1]);
  for (Index i = 0; i < corner.size(); ++i) put(i + 2, s / (s + corner[i]));
  return columns;
}

ComplexArray lossy_impedance(double k, double n, const Array& hz) {
  return evaluate(ModelBlock{BlockKind::lossy_inductor, 0, 0, 0, k, n}, hz);
}

double largest_relative_error(const ComplexArray& found, const ComplexArray& exact) {
  return ((found - exact).abs() / exact.abs()).maxCoeff();
}

LossyInductorForm with_sections(double k, double n, const Band& band, const Array& corner) {
  const Array hz = log_grid(band, 100), w = two_pi * hz;
  const ComplexArray exact = lossy_impedance(k, n, hz);
  VectorXd right(2 * hz.size());
  right << VectorXd::Ones(hz.size()), VectorXd::Zero(hz.size());
  const VectorXd found = without_negatives(section_columns(w, exact, corner), right);
  LossyInductorForm form;
  form.model.constant = found[0];
  form.model.proportional = found[1] / w[w.size() - 1];
  for (Index i = 0; i < corner.size(); ++i) {
    if (found[i + 2] == 0) continue;
    form.model.constant += found[i + 2];
    form.model.real.push_back({-corner[i], -corner[i] * found[i + 2]});
  }
  form.largest_error_percent = 100 * largest_relative_error(evaluate(form.model, hz), exact);
  return form;
}

/// Two real poles, or a pair, of peak (w0/q) s / (s^2 + s w0/q + w0^2).
RationalModel resonance_model(const ModelBlock& e) {
  const double w0 = two_pi * resonance_hz(e);
  double q = resonance_q(e);
  if (std::abs(q - 0.5) < 1e-6) q = 0.5 + 1e-6;  // a double pole is split a little
  const Complex turn = std::sqrt(Complex(1 / (4 * q * q) - 1, 0));
  const Complex first = w0 * (-1 / (2 * q) + turn), second = w0 * (-1 / (2 * q) - turn);
  const auto residue = [&](Complex pole, Complex other) {
    return e.ohm * (w0 / q) * pole / (pole - other);
  };
  RationalModel model;
  if (first.imag() > 0) {
    model.pairs.push_back({first, residue(first, second)});
  } else {
    model.real = {{first.real(), residue(first, second).real()},
                  {second.real(), residue(second, first).real()}};
  }
  return model;
}

RationalModel element_model(const ModelBlock& e, const Band& band, double error_percent) {
  RationalModel model;
  switch (e.kind) {
    case BlockKind::resistor:
      model.constant = e.ohm;
      break;
    case BlockKind::inductor:
      model.proportional = e.henry;
      break;
    case BlockKind::capacitor:
      model.real = {{0, 1 / e.farad}};
      break;
    case BlockKind::lossy_inductor:
      return lossy_inductor_rational(e.k, e.n, band, error_percent).model;
    case BlockKind::resistor_capacitor:
      model.real = {{-1 / (e.ohm * e.farad), 1 / e.farad}};
      break;
    case BlockKind::resistor_inductor: {
      const double corner = e.ohm / e.henry;
      model.constant = e.ohm;
      model.real = {{-corner, -corner * e.ohm}};
      break;
    }
    case BlockKind::resonance:
      return resonance_model(e);
  }
  return model;
}

RationalModel chain_model(const BlockChain& chain, const Band& band, double error_percent) {
  RationalModel model;
  for (const ModelBlock& element : chain)
    model = sum(model, element_model(element, band, error_percent));
  return model;
}

RationalModel parallel_model(const std::vector<BlockChain>& branches, const Band& band,
                             double error_percent) {
  if (branches.size() == 1) return chain_model(branches[0], band, error_percent);
  RationalModel admittance;
  for (const BlockChain& branch : branches)
    admittance = sum(admittance, reciprocal(chain_model(branch, band, error_percent)));
  return reciprocal(admittance);
}

}  // namespace

LossyInductorForm lossy_inductor_rational(double k, double n, const Band& band,
                                          double error_percent) {
  if (!(k > 0) || !(n > 0) || n > 1)
    throw InputError("k (j w)^n with this k and n is not a lossy inductor",
                     "give k > 0 and 0 < n <= 1");
  LossyInductorForm form;
  if (n == 1) {
    form.model.proportional = k;
    return form;
  }
  form.largest_error_percent = std::numeric_limits<double>::infinity();
  for (int sections = 1; sections <= 30; ++sections)
    // Too far beyond the ends wastes sections, too near leaves the ends to the resistance and coil.
    for (const double beyond : {0.4, 0.8, 1.2, 1.6, 2.0}) {
      LossyInductorForm tried = with_sections(k, n, band, corners(band, sections, beyond));
      if (tried.largest_error_percent < form.largest_error_percent) form = std::move(tried);
      if (form.largest_error_percent <= error_percent) return form;
    }
  return form;
}

RationalForm rational_form(const PassiveModel& model, const Band& band, double error_percent) {
  RationalForm form;
  form.model = sum(chain_model(model.common, band, error_percent),
                   parallel_model(model.branches, band, error_percent));
  const Array hz = log_grid(band, 480);
  form.largest_error_percent =
      100 * largest_relative_error(evaluate(form.model, hz), evaluate(model, hz));
  return form;
}

}  // namespace ohmtilt
