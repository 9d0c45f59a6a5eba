#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
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

Pad matched_pad_between(PadTopology topology, double in_ohm, double out_ohm, double db) {
  check_positive(in_ohm, "ohm");
  check_positive(out_ohm, "ohm");
  check_positive(db, "dB");
  const double least_db = minimum_loss_db(in_ohm, out_ohm);
  if (db < least_db)
    throw InputError("a matched pad from " + number_text(in_ohm) + " to " + number_text(out_ohm) +
                         " ohm cannot lose as little as " + number_text(db) + " dB",
                     "ask for " + number_text(least_db) + " dB or more");
  // Loss as a power ratio l, and (l + 1) / (l - 1).
  const double l = power_from_db(db);
  const double ratio = (l + 1) / (l - 1);
  if (topology == PadTopology::T) {
    const double shunt = 2 * std::sqrt(l * in_ohm * out_ohm) / (l - 1);
    return pad(topology, {std::max(0.0, in_ohm * ratio - shunt), shunt,
                          std::max(0.0, out_ohm * ratio - shunt)});
  }
  if (topology != PadTopology::pi) refuse(topology, "ask for T or pi between unequal resistances");
  const double series = (l - 1) / 2 * std::sqrt(in_ohm * out_ohm / l);
  return pad(topology,
             {1 / (ratio / in_ohm - 1 / series), series, 1 / (ratio / out_ohm - 1 / series)});
}

Pad minimum_loss_pad(double high_ohm, double low_ohm) {
  check_positive(low_ohm, "ohm");
  check_positive(high_ohm - low_ohm, "ohm between its sides");
  return pad(PadTopology::L, {std::sqrt(high_ohm * (high_ohm - low_ohm)),
                              low_ohm * std::sqrt(high_ohm / (high_ohm - low_ohm))});
}

double minimum_loss_db(double one_ohm, double other_ohm) {
  check_positive(one_ohm, "ohm");
  check_positive(other_ohm, "ohm");
  const double r = std::max(one_ohm, other_ohm) / std::min(one_ohm, other_ohm);
  return db_from_amplitude(std::sqrt(r) + std::sqrt(r - 1));
}

}  // namespace ohmtilt
