#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/minimax.h>
#include <ohmtilt/base/products.h>

#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

using Eigen::MatrixXd;
using Eigen::VectorXd;

/// A smooth function at one point.
struct Quadratic {
  double value = 0;
  VectorXd gradient;
  MatrixXd hessian;
};

Quadratic zero_of(Eigen::Index size) {
  return {0, VectorXd::Zero(size), MatrixXd::Zero(size, size)};
}

/// Adds ln(sum exp(s (u + G d))) / s; derivatives too if they are asked for.
void add_smooth(const Maximum& of, const VectorXd& d, double s, bool derivatives, Quadratic& sum) {
  const VectorXd u = of.value + of.gradient * d;
  const double most = u.maxCoeff();
  const VectorXd weight = ((u.array() - most) * s).exp();
  const double all = weight.sum();
  sum.value += most + std::log(all) / s;
  if (!derivatives) return;
  const VectorXd share = weight / all;
  const VectorXd mean = of.gradient.transpose() * share;
  sum.gradient += mean;
  sum.hessian += s * (product(of.gradient.transpose() * share.asDiagonal(), of.gradient) -
                      mean * mean.transpose());
}

Quadratic smooth(const SumOfMaxima& of, const VectorXd& d, double s, bool derivatives) {
  Quadratic sum = zero_of(d.size());
  sum.value = of.constant;
  for (const auto& one : of.maxima) add_smooth(one, d, s, derivatives, sum);
  return sum;
}

/// Objective plus weight times ln(1 + exp(s limit)) / s of each limit.
Quadratic penalised(const MinimaxModel& model, const VectorXd& d, double s, double weight,
                    bool derivatives) {
  Quadratic sum = smooth(model.objective, d, s, derivatives);
  for (const auto& limit : model.limits) {
    const Quadratic one = smooth(limit, d, s, derivatives);
    const double x = s * one.value;
    const double share = x > 0 ? 1 / (1 + std::exp(-x)) : std::exp(x) / (1 + std::exp(x));
    sum.value += weight * (std::max(x, 0.0) + std::log1p(std::exp(-std::abs(x)))) / s;
    if (!derivatives) continue;
    sum.gradient += weight * share * one.gradient;
    sum.hessian += weight * (share * one.hessian +
                             s * share * (1 - share) * one.gradient * one.gradient.transpose());
  }
  return sum;
}

/// Newton's step with what stands at an end of the box, and would leave it, held there.
VectorXd newton_step(Quadratic at, const VectorXd& d, const Bounds& box) {
  for (Eigen::Index i = 0; i < d.size(); ++i) {
    const bool held =
        (d[i] <= box.low[i] && at.gradient[i] > 0) || (d[i] >= box.high[i] && at.gradient[i] < 0);
    if (!held) continue;
    at.gradient[i] = 0;
    at.hessian.row(i).setZero();
    at.hessian.col(i).setZero();
  }
  const double most = std::max(at.hessian.diagonal().maxCoeff(), 1e-9);
  at.hessian.diagonal().array() += 1e-7 * most + 1e-12;
  const VectorXd step = solve_positive(at.hessian, -at.gradient);
  // Where one function alone is the largest there is no curvature: no further than across the box.
  const double longest = step.cwiseAbs().maxCoeff();
  const double widest = (box.high - box.low).maxCoeff();
  return longest > widest ? VectorXd(step * (widest / longest)) : step;
}

/// The smallest of the linearised problem within the box.
VectorXd inner_minimum(const MinimaxModel& model, double s, double weight, const Bounds& box) {
  VectorXd d = VectorXd::Zero(box.low.size());
  for (int round = 0; round < 40; ++round) {
    const Quadratic here = penalised(model, d, s, weight, true);
    const VectorXd step = newton_step(here, d, box);
    bool better = false;
    double gained = 0;
    for (double part = 1; part > 1e-4 && !better; part /= 2) {
      const VectorXd tried = (d + part * step).cwiseMax(box.low).cwiseMin(box.high);
      gained = here.value - penalised(model, tried, s, weight, false).value;
      better = gained > 0;
      if (better) d = tried;
    }
    if (!better || gained < 1e-9 * (1 + std::abs(here.value))) break;
  }
  return d;
}

/// The walk with one sharpness.
class Walk {
 public:
  Walk(const std::function<MinimaxModel(const VectorXd&)>& at, const Bounds& bounds,
       const MinimaxSteps& how, VectorXd& x)
      : at_(at), bounds_(bounds), how_(how), x_(x), model_(at(x)), radius_(how.first_radius) {}

  void run(double s) {
    radius_ = std::clamp(4 * radius_, 0.02, how_.first_radius);
    for (int step = 0; step < how_.steps && radius_ > 1e-7; ++step)
      if (!try_step(s)) break;
  }

 private:
  double value(const MinimaxModel& model, const VectorXd& d, double s) const {
    return model.objective.maxima.empty() ? std::numeric_limits<double>::infinity()
                                          : penalised(model, d, s, how_.weight, false).value;
  }

  /// False where nothing is left to gain.
  bool try_step(double s) {
    const Bounds box{(bounds_.low - x_).cwiseMax(-radius_), (bounds_.high - x_).cwiseMin(radius_)};
    const VectorXd d = inner_minimum(model_, s, how_.weight, box);
    const double before = value(model_, VectorXd::Zero(d.size()), s);
    const double promised = before - value(model_, d, s);
    if (!(promised > 1e-8)) return false;
    const VectorXd next = (x_ + d).cwiseMax(bounds_.low).cwiseMin(bounds_.high);
    MinimaxModel there = at_(next);
    const double kept = (before - value(there, VectorXd::Zero(d.size()), s)) / promised;
    if (kept > 0.01) {
      x_ = next;
      model_ = std::move(there);
    }
    radius_ *= kept > 0.75 ? 2 : kept > 0.25 ? 1 : 0.35;
    return true;
  }

  const std::function<MinimaxModel(const VectorXd&)>& at_;
  const Bounds& bounds_;
  const MinimaxSteps& how_;
  VectorXd& x_;
  MinimaxModel model_;
  double radius_;
};

}  // namespace

VectorXd minimax(const std::function<MinimaxModel(const VectorXd&)>& at, const VectorXd& x,
                 const Bounds& bounds, const MinimaxSteps& how) {
  VectorXd here = x.cwiseMax(bounds.low).cwiseMin(bounds.high);
  Walk walk(at, bounds, how, here);
  for (const double s : how.sharpness) walk.run(s);
  return here;
}

}  // namespace ohmtilt
