#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

using Eigen::Index;

bool given(const Array& column) { return column.size() > 0; }

ReadingMethod method_for(const MeterReadings& r) {
  if (given(r.volt_load) && given(r.ampere)) return ReadingMethod::current;
  if (given(r.volt_load) && given(r.volt_reference)) return ReadingMethod::reference_volt;
  if (given(r.volt_both) && given(r.volt_load)) return ReadingMethod::ratio_of_load;
  if (given(r.volt_both) && given(r.volt_reference)) return ReadingMethod::ratio_of_reference;
  throw InputError("the readings do not tell an impedance",
                   "give volt_load with ampere, volt_reference or volt_both over frequency_hz");
}

void check_column(const Array& column, const Array& hz, const std::string& name) {
  if (!given(column)) return;
  if (column.size() != hz.size())
    throw InputError(name + " has " + std::to_string(column.size()) + " values for " +
                         std::to_string(hz.size()) + " frequencies",
                     "give one a frequency");
  for (Index i = 0; i < hz.size(); ++i)
    if (!(column[i] > 0 && std::isfinite(column[i])))
      throw InputError(name + " at " + number_text(hz[i]) + " Hz is " + number_text(column[i]),
                       "give magnitudes above zero");
}

void check(const MeterReadings& r, ReadingMethod method, double reference_ohm,
           const ReadingAccuracy& accuracy) {
  check_column(r.volt_both, r.frequency_hz, "volt_both");
  check_column(r.volt_load, r.frequency_hz, "volt_load");
  check_column(r.volt_reference, r.frequency_hz, "volt_reference");
  check_column(r.ampere, r.frequency_hz, "ampere");
  if (method != ReadingMethod::current && !(reference_ohm > 0 && std::isfinite(reference_ohm)))
    throw InputError(reference_ohm == 0
                         ? "these columns need the reference's resistance"
                         : "a reference of " + number_text(reference_ohm) + " ohm is not one",
                     "give --reference with its resistance in ohm, such as --reference 22");
  for (const double limit :
       {accuracy.meter_percent, accuracy.meter_counts_volt, accuracy.reference_tolerance_percent})
    if (!(limit >= 0 && std::isfinite(limit)))
      throw InputError("an accuracy of " + number_text(limit) + " is not one", "give zero or more");
}

/// Relative standard uncertainty of the quotient of two readings; counts only on voltages.
Array quotient_error(const Array& a, const Array& b, bool b_is_volt,
                     const ReadingAccuracy& accuracy) {
  const double percent = uncertainty_of_limit(accuracy.meter_percent / 100);
  const double counts = uncertainty_of_limit(accuracy.meter_counts_volt);
  const double common = accuracy.correlated && b_is_volt ? 0 : 2 * percent * percent;
  Array variance = common + (counts / a).square();
  if (b_is_volt) variance += (counts / b).square();
  return variance.sqrt();
}

/// A part may not exceed the whole by more than three standard uncertainties.
Array checked_ratio(const Array& part, const Array& whole, const Array& error, const Array& hz,
                    std::vector<std::string>& warnings) {
  Array ratio = part / whole;
  Index over = 0;
  for (Index i = 0; i < hz.size(); ++i) {
    if (ratio[i] < 1) continue;
    if (ratio[i] > 1 + 3 * error[i])
      throw InputError("at " + number_text(hz[i]) + " Hz the voltage across a part, " +
                           number_text(part[i]) + " V, exceeds that across both, " +
                           number_text(whole[i]) + " V",
                       "check which column is which");
    ++over;
    ratio[i] = 1 - 1e-3;
  }
  if (over > 0)
    warnings.push_back(std::to_string(over) +
                       " readings show no difference between the part and both; a reference nearer "
                       "to the impedance would");
  return ratio;
}

ComplexArray turned(const Array& ratio, const Array& phase_deg) {
  ComplexArray h(ratio.size());
  for (Index i = 0; i < h.size(); ++i) h[i] = std::polar(ratio[i], phase_deg[i] * degree);
  return h;
}

ComplexArray impedance_of_ratio(const ComplexArray& h, bool at_load, double reference_ohm) {
  return at_load ? ComplexArray(reference_ohm * h / (1.0 - h))
                 : ComplexArray(reference_ohm * (1.0 - h) / h);
}

ReadImpedance from_ratio(const MeterReadings& r, ReadingMethod method, double reference_ohm,
                         const ReadingAccuracy& accuracy, const CurveNotes& notes) {
  const bool at_load = method == ReadingMethod::ratio_of_load;
  const Array& hz = r.frequency_hz;
  const Array& part = at_load ? r.volt_load : r.volt_reference;
  std::vector<std::string> warnings;
  const Array error = quotient_error(part, r.volt_both, true, accuracy);
  const Array ratio = checked_ratio(part, r.volt_both, error, hz, warnings);
  const MinimumPhase phase = minimum_phase(ImpedanceCurve(notes, hz, ratio));
  const ComplexArray h = turned(ratio, phase.phase_deg);
  const ComplexArray z = impedance_of_ratio(h, at_load, reference_ohm);
  Array open = Array::Zero(hz.size());
  for (const Array& other : phase.alternatives_deg)
    open = open.max((impedance_of_ratio(turned(ratio, other), at_load, reference_ohm) - z).abs());
  const Array meter = z.abs() * error / (1.0 - h).abs();  // dZ/Z = dH/(H (1 - H)), either wiring
  const Array scale = z.abs() * uncertainty_of_limit(accuracy.reference_tolerance_percent / 100);
  const Array u = (meter.square() + scale.square() + open.square() / 3).sqrt();
  warnings.push_back(
      "only the ratio of two voltages was read: its minimum phase was computed, and the impedance "
      "from both; volt_reference or ampere as a third column would give |Z| directly");
  return {ImpedanceCurve(notes, hz, z.abs(), z.arg() / degree, u), method, std::move(warnings)};
}

}  // namespace

std::string to_string(ReadingMethod method) {
  switch (method) {
    case ReadingMethod::current:
      return "|Z| from voltage and current";
    case ReadingMethod::reference_volt:
      return "|Z| from the voltages across earphone and reference";
    case ReadingMethod::ratio_of_load:
      return "Z from |Z/(Z + R)| and its minimum phase";
    case ReadingMethod::ratio_of_reference:
      return "Z from |R/(Z + R)| and its minimum phase";
  }
  return {};
}

ReadImpedance impedance_of_readings(const MeterReadings& r, double reference_ohm,
                                    const ReadingAccuracy& accuracy) {
  const ReadingMethod method = method_for(r);
  check(r, method, reference_ohm, accuracy);
  CurveNotes notes;
  notes.origin = "meter readings; " + to_string(method);
  if (method == ReadingMethod::ratio_of_load || method == ReadingMethod::ratio_of_reference)
    return from_ratio(r, method, reference_ohm, accuracy, notes);
  const bool by_current = method == ReadingMethod::current;
  const Array ohm = by_current ? Array(r.volt_load / r.ampere)
                               : Array(reference_ohm * r.volt_load / r.volt_reference);
  const Array error =
      quotient_error(r.volt_load, by_current ? r.ampere : r.volt_reference, !by_current, accuracy);
  const double scale =
      by_current ? 0 : uncertainty_of_limit(accuracy.reference_tolerance_percent / 100);
  return {
      ImpedanceCurve(notes, r.frequency_hz, ohm, {}, ohm * (error.square() + scale * scale).sqrt()),
      method,
      {}};
}

}  // namespace ohmtilt
