#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/noise_exposure.h>

#include <cmath>

namespace ohmtilt {

double niosh_minutes_at(double level_dba) {
  return niosh_minutes / std::exp2((level_dba - niosh_level_dba) / 3);
}

double weekly_hours_at(double level_dba) {
  return weekly_hours / power_from_db(level_dba - weekly_level_dba);
}

}  // namespace ohmtilt
