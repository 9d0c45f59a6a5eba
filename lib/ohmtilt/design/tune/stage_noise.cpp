#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/design/tune/stage_noise.h>
#include <ohmtilt/hearing/weighting.h>

namespace ohmtilt {

double stage_noise_volt(const Circuit& whole, const Array& hz) {
  Array square = Array::Zero(hz.size());
  for (const auto& part : thermal_noise(whole, hz, "earphone").parts)
    if (part.part.starts_with("stage ")) square += part.volt_per_root_hz.square();
  return a_weighted_noise_volt(hz, square.sqrt());
}

}  // namespace ohmtilt
