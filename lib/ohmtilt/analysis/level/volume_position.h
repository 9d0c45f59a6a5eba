#pragma once
#include <optional>

#include <ohmtilt/chain/volume_law.h>

namespace ohmtilt {

/// The travel in percent at which a control's gain is gain_db re full travel: the lowest such one.
/// Nothing where it never is (louder than full travel, softer than a table's first row) and for
/// DecibelSteps, which have no travel.
std::optional<double> travel_at_gain(const VolumeLaw& law, double gain_db);

/// Difference between the channels in dB of a usual potentiometer that stands at gain_db re full
/// travel: 0.2 dB at full, 1 dB at -20 dB, 2 dB at -40 dB, 4 dB at -60 dB and below, straight lines
/// between. Common practice, no source.
double usual_imbalance_db(double gain_db);

struct Imbalance {
  double db = 0;
  bool measured = false;  ///< from the control's own table; otherwise usual_imbalance_db
};
/// At that travel. A table without differences, and every taper, gets the usual ones.
Imbalance imbalance_at(const VolumeLaw& law, double travel_percent);

}  // namespace ohmtilt
