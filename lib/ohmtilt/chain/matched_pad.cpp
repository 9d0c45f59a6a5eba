#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <cmath>

namespace ohmtilt {
namespace {

void check_positive(double value, const char* what) {
  if (!(value > 0 && std::isfinite(value)))
    throw InputError(number_text(value) + " " + what + " is not allowed for a matched pad",
                     "give a positive number");
}

Pad pad(PadTopology topology, std::vector<double> ohm) { return {topology, std::move(ohm), 0}; }

[[noreturn]] void refuse(PadTopology topology, const char* remedy) {
  throw InputError(std::string(topology_name(topology)) + " has no values for matching", remedy);
}

}  // namespace

Pad matched_pad(PadTopology topology, double ohm, double db) {
  check_positive(ohm, "ohm");
  check_positive(db, "dB");
  const double n = amplitude_from_db(db);
  const double t_series = ohm * (n - 1) / (n + 1);
  const double t_shunt = 2 * ohm * n / (n * n - 1);
  const double pi_series = ohm * (n * n - 1) / (2 * n);
  const double pi_shunt = ohm * (n + 1) / (n - 1);
  switch (topology) {
    case PadTopology::L:
      return pad(topology, {ohm * (n - 1) / n, ohm / (n - 1)});
    case PadTopology::U:
      return pad(topology, {ohm * (n - 1) / n / 2, ohm / (n - 1)});
    case PadTopology::T:
      return pad(topology, {t_series, t_shunt, t_series});
    case PadTopology::H:
      return pad(topology, {t_series / 2, t_shunt, t_series / 2});
    case PadTopology::pi:
      return pad(topology, {pi_shunt, pi_series, pi_shunt});
    case PadTopology::O:
      return pad(topology, {pi_shunt, pi_series / 2, pi_shunt});
    case PadTopology::bridged_T:
      return pad(topology, {ohm, ohm, ohm / (n - 1), ohm * (n - 1)});
    case PadTopology::series:
      break;
  }
  refuse(topology, "ask for L, T, pi, H, O, bridged-T or U");
}

}  // namespace ohmtilt
