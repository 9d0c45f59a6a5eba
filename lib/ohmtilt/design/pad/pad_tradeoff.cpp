#include <ohmtilt/design/pad/pad_tradeoff.h>

#include <boost/math/tools/roots.hpp>

#include <cmath>
#include <vector>

namespace ohmtilt {
namespace {

constexpr double most_series_ohm = 1e7;
constexpr double no_shunt_ohm = 1e12;

ResistiveTwoPort l_two_port(double series_ohm, double shunt_ohm) {
  return two_port(PadTopology::L, std::vector{series_ohm, shunt_ohm});
}

Array as_array(const std::vector<double>& values) {
  return Eigen::Map<const Array>(values.data(), static_cast<Eigen::Index>(values.size()));
}

}  // namespace

std::optional<double> series_for(const PadSite& site, double shunt_ohm, double attenuation_db) {
  const auto excess_db = [&](double series_ohm) {
    return site.attenuation_db(l_two_port(series_ohm, shunt_ohm)) - attenuation_db;
  };
  if (excess_db(0) > 0 || excess_db(most_series_ohm) < 0) return std::nullopt;
  std::uintmax_t steps = 200;
  const auto bracket = boost::math::tools::toms748_solve(
      excess_db, 0.0, most_series_ohm, boost::math::tools::eps_tolerance<double>(48), steps);
  return (bracket.first + bracket.second) / 2;
}

PadTradeoff pad_tradeoff(const PadSite& site, double attenuation_db, Eigen::Index points) {
  const double least_ohm = site.load_min_ohm() / 100;
  std::vector<double> output_ohm, span_db, input_ohm, ampere;
  for (Eigen::Index i = 0; i < points; ++i) {
    // Up to a thousand times the load, where a shunt hardly matters, and then none at all.
    const double at = double(i) / double(points - 1);
    const double shunt_ohm = i + 1 < points ? least_ohm * std::pow(1e5, at) : no_shunt_ohm;
    const auto series_ohm = series_for(site, shunt_ohm, attenuation_db);
    if (!series_ohm) continue;
    const ResistiveTwoPort pad = l_two_port(*series_ohm, shunt_ohm);
    output_ohm.push_back(site.output_ohm(pad));
    span_db.push_back(site.span_db(pad));
    input_ohm.push_back(site.input_min_ohm(pad));
    ampere.push_back(site.largest_ampere(pad));
  }
  return {as_array(output_ohm), as_array(span_db), as_array(input_ohm), as_array(ampere)};
}

}  // namespace ohmtilt
