#pragma once
// How far a fitted model is from its curve.
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/model/passive_fit.h>

#include <cmath>

#include "tests/support.h"

namespace ohmtilt::test {

inline double phase_rms_deg(const PassiveModel& model, const ImpedanceCurve& curve) {
  const Array turn = (evaluate(model, curve.frequency_hz()) / curve.impedance_ohm()).arg();
  return std::sqrt(turn.square().mean()) / degree;
}

}  // namespace ohmtilt::test
