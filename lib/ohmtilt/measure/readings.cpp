#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/measure/divider_impedance.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <limits>

namespace ohmtilt {
namespace {

using Eigen::Index;

bool given(const Array& column) { return column.size() > 0; }

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
                         : "a reference of " + number_text(reference_ohm) + " ohm is not allowed",
                     "give its resistance in ohm, such as 22");
  for (const double limit :
       {accuracy.meter_percent, accuracy.meter_counts_volt, accuracy.reference_tolerance_percent})
    if (!(limit >= 0 && std::isfinite(limit)))
      throw InputError("an accuracy of " + number_text(limit) + " is not allowed",
                       "give zero or more");
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

/// Throws InputError for the readings at one frequency.
[[noreturn]] void refuse_row(const MeterReadings& r, Index i, const std::string& wrong,
                             const std::string& remedy) {
  const std::string where = "at " + number_text(r.frequency_hz[i]) + " Hz " + wrong;
  if (r.places.empty()) throw InputError(where, remedy);
  throw InputError(r.places[static_cast<std::size_t>(i)], where, remedy);
}

/// A part may not exceed the whole by more than three standard uncertainties.
Array checked_ratio(const MeterReadings& r, const Array& part, const Array& error,
                    std::vector<std::string>& warnings) {
  const Array &whole = r.volt_both, &hz = r.frequency_hz;
  Array ratio = part / whole;
  Index over = 0;
  for (Index i = 0; i < hz.size(); ++i) {
    if (ratio[i] < 1) continue;
    if (ratio[i] > 1 + 3 * error[i])
      refuse_row(r, i,
                 "the voltage across a part, " + number_text(part[i]) +
                     " V, exceeds that across both, " + number_text(whole[i]) + " V",
                 "check which column is which, and this row's numbers");
    ++over;
    ratio[i] = 1 - 1e-3;
  }
  if (over > 0)
    warnings.push_back(std::to_string(over) +
                       " readings show no difference between the part and both; a reference nearer "
                       "to the impedance would");
  return ratio;
}

ReadImpedance from_ratio(const MeterReadings& r, ReadingMethod method, double reference_ohm,
                         const ReadingAccuracy& accuracy, const CurveNotes& notes) {
  const bool at_load = method == ReadingMethod::ratio_of_load;
  const Array& hz = r.frequency_hz;
  const Array& part = at_load ? r.volt_load : r.volt_reference;
  std::vector<std::string> warnings;
  const Array error = quotient_error(part, r.volt_both, true, accuracy);
  const Array ratio = checked_ratio(r, part, error, warnings);
  const DividerImpedance found =
      impedance_of_divider(hz, ratio, at_load ? Wiring::load : Wiring::reference, reference_ohm);
  const ComplexArray& z = found.impedance_ohm;
  // dZ/Z = dH/(H (1 - H)) in either wiring; 1 - H is R/(Z + R) or Z/(Z + R).
  const ComplexArray whole = z + reference_ohm;
  const Array meter =
      error * (at_load ? Array(whole.abs() / reference_ohm) : whole.abs() / z.abs());
  const double scale = uncertainty_of_limit(accuracy.reference_tolerance_percent / 100);
  const Array relative =
      (meter.square() + scale * scale + (found.open_ohm / z.abs()).square()).sqrt();
  warnings.push_back(
      "only the ratio of two voltages was read: its phase was computed, and the impedance from "
      "both; volt_reference or ampere as a third column would give |Z| directly");
  return {ImpedanceCurve(notes, hz, z.abs(), {}, z.abs() * relative),
          method,
          PhaseSource::computed,
          z.arg() / degree,
          ((meter / degree).square() + found.open_deg.square()).sqrt(),
          std::move(warnings)};
}

/// The cosine of the angle between the parts' voltages, and its standard uncertainty.
struct Cosine {
  Array value, uncertainty;
};

Cosine cosine(const MeterReadings& r, const ReadingAccuracy& accuracy) {
  const Array &b = r.volt_both, &l = r.volt_load, &v = r.volt_reference;
  const Array whole = b.square() / (2 * l * v), first = l / (2 * v), second = v / (2 * l);
  // Derivatives with respect to the voltages' logarithms.
  const Array by_b = 2 * whole, by_l = second - first - whole, by_v = first - second - whole;
  const double percent =
      accuracy.correlated ? 0 : uncertainty_of_limit(accuracy.meter_percent / 100);
  const double counts = uncertainty_of_limit(accuracy.meter_counts_volt);
  const auto part = [&](const Array& by, const Array& volt) -> Array {
    return by.square() * (percent * percent + (counts / volt).square());
  };
  return {whole - first - second, (part(by_b, b) + part(by_l, l) + part(by_v, v)).sqrt()};
}

/// A meter of 1 % where less is said: this finds errors of typing, not of meters.
void check_triangles(const MeterReadings& r, ReadingAccuracy accuracy) {
  accuracy.meter_percent = std::max(accuracy.meter_percent, 1.0);
  accuracy.correlated = false;
  const Cosine c = cosine(r, accuracy);
  for (Index i = 0; i < r.frequency_hz.size(); ++i) {
    const double slack = 3 * c.uncertainty[i];
    if (c.value[i] <= 1 + slack && c.value[i] >= -slack) continue;
    refuse_row(r, i,
               "no passive impedance gives " + number_text(r.volt_both[i]) + " V across both, " +
                   number_text(r.volt_load[i]) + " V across the earphone and " +
                   number_text(r.volt_reference[i]) + " V across the reference",
               "check this row's numbers, or leave it out");
  }
}

/// The phase (rad, >= 0) that lies least squares between a cosine and a computed phase's size: the
/// best of a fine grid over 0 to 90 degrees, where the sum has up to two minima.
double between(double cosine, double u_cosine, double computed, double u_computed) {
  double best = 0, least = std::numeric_limits<double>::infinity();
  for (int step = 0; step <= 1800; ++step) {
    const double phase = step * degree / 20;
    const double sum = std::pow((std::cos(phase) - cosine) / u_cosine, 2) +
                       std::pow((phase - computed) / u_computed, 2);
    if (!(sum < least)) continue;
    least = sum;
    best = phase;
  }
  return best;
}

/// The phase of a triangle with the sign and the small angles of the computed one.
void add_triangle_phase(const MeterReadings& r, const ReadingAccuracy& accuracy,
                        ReadImpedance& result) {
  const Cosine c = cosine(r, accuracy);
  // An impedance's inverse, its admittance, goes on as well as itself.
  const MinimumPhase computed = minimum_phase_of_ratio(result.curve);
  Array variance =
      phase_open_between(r.frequency_hz, result.curve.magnitude_ohm(), computed.phase_deg).square();
  for (std::size_t end = 0; end + 1 < computed.alternatives_deg.size(); end += 2)
    variance += (computed.alternatives_deg[end] - computed.phase_deg)
                    .square()
                    .max((computed.alternatives_deg[end + 1] - computed.phase_deg).square());
  const Array noise = quotient_error(r.volt_load, r.volt_reference, true, accuracy) / degree;
  const Array u = ((variance + noise.square()).sqrt() * degree).max(1e-4);
  result.phase_source = PhaseSource::triangle;
  result.phase_deg = result.phase_uncertainty_deg = Array(u.size());
  for (Index i = 0; i < u.size(); ++i) {
    const double about = computed.phase_deg[i] * degree;
    const double u_cosine = std::max(c.uncertainty[i], 1e-6);
    const double size = between(c.value[i], u_cosine, std::abs(about), u[i]);
    result.phase_deg[i] = std::copysign(size, about) / degree;
    result.phase_uncertainty_deg[i] = 1 / std::hypot(1 / u[i], std::sin(size) / u_cosine) / degree;
  }
}

}  // namespace

ReadingMethod method_for(const MeterReadings& r) {
  if (given(r.volt_load) && given(r.ampere)) return ReadingMethod::current;
  if (given(r.volt_load) && given(r.volt_reference)) return ReadingMethod::reference_volt;
  if (given(r.volt_both) && given(r.volt_load)) return ReadingMethod::ratio_of_load;
  if (given(r.volt_both) && given(r.volt_reference)) return ReadingMethod::ratio_of_reference;
  throw InputError("the readings do not tell an impedance",
                   "give volt_load with ampere, volt_reference or volt_both over frequency_hz");
}

std::string to_string(ReadingMethod method) {
  switch (method) {
    case ReadingMethod::current:
      return "|Z| from voltage and current";
    case ReadingMethod::reference_volt:
      return "|Z| from the voltages across earphone and reference";
    case ReadingMethod::ratio_of_load:
      return "|Z| from |Z/(Z + R)| and its computed phase";
    case ReadingMethod::ratio_of_reference:
      return "|Z| from |R/(Z + R)| and its computed phase";
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
  const bool three_voltages = given(r.volt_both) && given(r.volt_load) && given(r.volt_reference);
  if (three_voltages) check_triangles(r, accuracy);
  const bool by_current = method == ReadingMethod::current;
  const Array ohm = by_current ? Array(r.volt_load / r.ampere)
                               : Array(reference_ohm * r.volt_load / r.volt_reference);
  const Array error =
      quotient_error(r.volt_load, by_current ? r.ampere : r.volt_reference, !by_current, accuracy);
  const double scale =
      by_current ? 0 : uncertainty_of_limit(accuracy.reference_tolerance_percent / 100);
  ReadImpedance result{
      ImpedanceCurve(notes, r.frequency_hz, ohm, {}, ohm * (error.square() + scale * scale).sqrt()),
      method};
  if (three_voltages) add_triangle_phase(r, accuracy, result);
  return result;
}

}  // namespace ohmtilt
