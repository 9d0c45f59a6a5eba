#pragma once
// The real state-space form behind rational_model.h and vector_fitting.h.
#include <ohmtilt/model/rational_model.h>
#include <Eigen/Core>

namespace ohmtilt {

/// f(s) = d + c (s I - A)^-1 b.
struct StateSpace {
  Eigen::MatrixXd a;
  Eigen::VectorXd b;
  Eigen::RowVectorXd c;
  double d = 0;
};

/// The model without its proportional term: one state a real pole, two a pair.
StateSpace state_space(const RationalModel& model);

/// Eigenvalues of a real matrix; of a pair the one with Im > 0 first. Empty for an empty matrix.
std::vector<Complex> eigenvalues(const Eigen::MatrixXd& matrix);

/// Finite zeros of f; with a proportional term, of f(s) + proportional s. Throws InputError when
/// there is neither d, nor a proportional term, nor c b.
std::vector<Complex> transmission_zeros(const StateSpace& system, double proportional = 0);

}  // namespace ohmtilt
