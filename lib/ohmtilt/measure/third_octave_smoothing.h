#pragma once
#include <ohmtilt/base/array.h>

namespace ohmtilt {

/// Mean of values over a third of an octave around each, where per_octave values make an octave.
Array pooled(const Array& values, double per_octave);

/// Factor on a standard deviation from few samples that makes twice the result cover as much as
/// two standard deviations of the normal distribution do (GUM G.3.2: Student's t).
double few_samples_factor(double degrees_of_freedom);

}  // namespace ohmtilt
