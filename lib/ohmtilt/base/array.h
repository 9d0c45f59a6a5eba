#pragma once
// The two array types of the whole library: one value a frequency.
#include <Eigen/Core>
#include <complex>

namespace ohmtilt {

using Array = Eigen::ArrayXd;
using ComplexArray = Eigen::ArrayXcd;
using Complex = std::complex<double>;

}  // namespace ohmtilt
