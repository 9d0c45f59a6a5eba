#include <ohmtilt/design/flatten/dual_network.h>
#include <ohmtilt/text/error.h>

namespace ohmtilt {

SeriesResonance dual_of(const ParallelResonance& resonance, double ohm) {
  if (!(resonance.ohm > 0 && resonance.henry > 0 && resonance.farad > 0))
    throw InputError("a resonance with a value that is not positive has no dual",
                     "give ohm, henry and farad above 0");
  const double square = ohm * ohm;
  return {square / resonance.ohm, square * resonance.farad, resonance.henry / square};
}

}  // namespace ohmtilt
