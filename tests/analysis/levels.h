#pragma once
// Sources and earphones made in memory for the tests on levels.
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>

#include "tests/support.h"

namespace ohmtilt::test {

/// A resistor with a sensitivity at 1 kHz and no response.
inline Earphone resistive_earphone(double ohm, double db_per_volt = 120) {
  Earphone earphone{"resistor",
                    OnePort::resistance(ohm),
                    PhaseOrigin::computed,
                    {},
                    {},
                    {},
                    {},
                    {},
                    {},
                    {},
                    {},
                    {},
                    {}};
  earphone.sensitivity = Sensitivity{db_per_volt, 1000};
  return earphone;
}

inline Source source(double output_ohm, double open_volt) {
  Source result;
  result.output_ohm = output_ohm;
  result.open_volt = open_volt;
  return result;
}

}  // namespace ohmtilt::test
