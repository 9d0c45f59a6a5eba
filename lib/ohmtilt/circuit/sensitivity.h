#pragma once
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>
#include <ohmtilt/circuit/circuit.h>

namespace ohmtilt {

/// d ln H / d ln x of one value x of one part: the real part is that of |H| (1: one per cent more x
/// gives one per cent more |H|), the imaginary part is the phase in radians per relative change.
struct PartSensitivity {
  std::string part;
  std::string quantity;  ///< the TOML key
  ComplexArray value;    ///< one a frequency
};

/// Of the driving-point impedance at a port, for every value that is not zero, in the circuit's
/// order, by the adjoint method [Director1969]: one solution and one adjoint solution
/// for all of them. Only a part's own numbers are differentiated by differences (fourth order,
/// about 1e-11). Throws InputError as NodalSystem does, and where the impedance is zero.
std::vector<PartSensitivity> impedance_sensitivities(const Circuit& circuit, const Array& hz,
                                                     std::string_view port = {});

/// The largest of |Re value| over the grid, with its sign and frequency.
struct SensitivityPeak {
  std::string part, quantity;
  double peak = 0;
  double hz = 0;
};
/// The most sensitive first.
std::vector<SensitivityPeak> sensitivity_peaks(const std::vector<PartSensitivity>& sensitivities,
                                               const Array& hz);

}  // namespace ohmtilt
