#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

Array ideal_response_db(const Earphone& earphone, const Array& hz) {
  if (!earphone.response)
    throw InputError(printable(earphone.title) + " has no response",
                     "name one in its earphone file: response = \"file.csv\"");
  const auto& [curve, source_ohm] = *earphone.response;
  const Array measured_db = LogInterpolator(curve.frequency_hz(), curve.level_db()).at(hz);
  const ComplexArray load_ohm = earphone.impedance.at(hz);
  return measured_db + db_from_amplitude((1 + source_ohm / load_ohm).abs());
}

Band response_range(const Earphone& earphone) {
  const Band impedance = earphone.impedance.range();
  return earphone.response ? overlap(impedance, earphone.response->curve.range()) : impedance;
}

Array level_db_per_volt(const Earphone& earphone, const Array& hz) {
  if (!earphone.sensitivity)
    throw InputError(printable(earphone.title) + " has no sensitivity, so its level is unknown",
                     "write sensitivity_db_per_volt into its earphone file");
  const auto& [db_per_volt, at_hz] = *earphone.sensitivity;
  if (!earphone.response) return Array::Constant(hz.size(), db_per_volt);
  if (!response_range(earphone).contains(at_hz))
    throw InputError("the sensitivity of " + printable(earphone.title) + " is at " +
                         number_text(at_hz) + " Hz, where its response is unknown",
                     "give a response that reaches there");
  const double at_reference = ideal_response_db(earphone, Array::Constant(1, at_hz))[0];
  return db_per_volt + ideal_response_db(earphone, hz) - at_reference;
}

Array isolation_db(const Earphone& earphone, const Array& hz) {
  if (!earphone.isolation) return Array::Zero(hz.size());
  if (const double* figure = std::get_if<double>(&*earphone.isolation))
    return Array::Constant(hz.size(), *figure);
  const auto& curve = std::get<ResponseCurve>(*earphone.isolation);
  const Array inside = hz.max(curve.range().low_hz).min(curve.range().high_hz);
  return LogInterpolator(curve.frequency_hz(), curve.level_db()).at(inside);
}

}  // namespace ohmtilt
