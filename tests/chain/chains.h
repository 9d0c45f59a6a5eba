#pragma once
// Chains made in memory, and what is asked of them, in few words.
#include <cmath>
#include <complex>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/thevenin_source.h>

#include "tests/support.h"

namespace ohmtilt::test {

inline Chain chain(double output_ohm, std::vector<Stage> stages) {
  Source source;
  source.output_ohm = output_ohm;
  return {"test chain", source, std::move(stages)};
}

inline Pad pad(PadTopology topology, std::vector<double> ohm) {
  return {topology, std::move(ohm), 0};
}

inline Complex output_ohm(const Chain& chain, double hz = 1000) {
  return thevenin_source(chain).output.at(hz);
}

inline Complex open_ratio(const Chain& chain, double hz = 1000) {
  return thevenin_source(chain).at(Array::Constant(1, hz)).open_ratio[0];
}

/// 20 lg |voltage at a load / e.m.f.|.
inline double gain_db(const Chain& chain, Complex load_ohm, double hz = 1000) {
  const auto samples = thevenin_source(chain).at(Array::Constant(1, hz));
  return terminal_gain_db(samples, ComplexArray::Constant(1, load_ohm))[0];
}

/// How much less reaches the load than without the stages, in dB: the insertion loss.
inline double insertion_loss_db(const Chain& with_stages, double load_ohm) {
  return gain_db(with_stages.with_stages({}), load_ohm) - gain_db(with_stages, load_ohm);
}

inline double input_ohm_at_1khz(const Chain& chain, double load_ohm) {
  return input_ohm(chain, OnePort::resistance(load_ohm), Array::Constant(1, 1000))[0].real();
}

inline double parallel(double a, double b) { return a * b / (a + b); }

}  // namespace ohmtilt::test
