#include <ohmtilt/measure/source_impedance.h>
#include <ohmtilt/measure/uncertainty_propagation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>
#include <set>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::Vector2d;
using Eigen::VectorXd;

std::string short_number(double value) {
  const double scale = std::pow(10.0, 2 - std::floor(std::log10(value)));
  return number_text(std::round(value * scale) / scale);
}

LoadReading heaviest(const std::vector<LoadReading>& readings) {
  return *std::min_element(readings.begin(), readings.end(),
                           [](const auto& a, const auto& b) { return a.load_ohm < b.load_ohm; });
}

double lightest_ohm(const std::vector<LoadReading>& readings) {
  double ohm = 0;
  for (const auto& reading : readings) ohm = std::max(ohm, reading.load_ohm);
  return ohm;
}

void check(const std::vector<LoadReading>& readings, const SourceAccuracy& accuracy) {
  std::set<double> loads;
  for (const auto& [load_ohm, volt] : readings) {
    if (!(load_ohm > 0))
      throw InputError("a load of " + number_text(load_ohm) + " ohm is not allowed",
                       "give a positive resistance, or inf for the open output");
    if (!(volt > 0 && std::isfinite(volt)))
      throw InputError("a reading of " + number_text(volt) + " V is not allowed",
                       "give the magnitude of the voltage, above zero");
    loads.insert(load_ohm);
  }
  if (loads.size() < 2)
    throw InputError("one load alone does not tell the output impedance",
                     "read the voltage at two different loads, or open and loaded");
  for (const double limit :
       {accuracy.meter_percent, accuracy.meter_counts_volt, accuracy.load_percent})
    if (!(limit >= 0 && std::isfinite(limit)))
      throw InputError("an accuracy of " + number_text(limit) + " is not allowed",
                       "give zero or more");
}

/// Output impedance and e.m.f. from the voltages (first half of x) and load conductances (second).
VectorXd line(const VectorXd& x) {
  const Index n = x.size() / 2;
  const Array volt = x.head(n).array(), siemens = x.tail(n).array();
  const Array weight = volt.pow(4);
  const double mean_siemens = (weight * siemens).sum() / weight.sum();
  const double mean_inverse = (weight / volt).sum() / weight.sum();
  const Array away = siemens - mean_siemens;
  const double slope =
      (weight * away * (1 / volt - mean_inverse)).sum() / (weight * away.square()).sum();
  const double at_open = mean_inverse - slope * mean_siemens;
  return Vector2d(slope / at_open, 1 / at_open);
}

Estimate readings_input(const std::vector<LoadReading>& readings, const SourceAccuracy& accuracy) {
  const auto n = static_cast<Index>(readings.size());
  Estimate in{VectorXd(2 * n), Eigen::MatrixXd::Zero(2 * n, 2 * n)};
  for (Index i = 0; i < n; ++i) {
    in.value[i] = readings[i].volt;
    in.value[n + i] = 1 / readings[i].load_ohm;
  }
  const VectorXd gain = in.value.head(n) * uncertainty_of_limit(accuracy.meter_percent / 100);
  const VectorXd load = in.value.tail(n) * uncertainty_of_limit(accuracy.load_percent / 100);
  if (accuracy.correlated)
    in.covariance.topLeftCorner(n, n) = gain * gain.transpose();
  else
    in.covariance.topLeftCorner(n, n).diagonal() = gain.cwiseAbs2();
  in.covariance.topLeftCorner(n, n).diagonal().array() +=
      std::pow(uncertainty_of_limit(accuracy.meter_counts_volt), 2);
  in.covariance.bottomRightCorner(n, n).diagonal() = load.cwiseAbs2();
  return in;
}

/// Standard uncertainty if the output had been read at light_ohm and at load_ohm.
double expected_uncertainty(const SourceImpedance& source, double light_ohm, double load_ohm,
                            const SourceAccuracy& accuracy) {
  const auto reading = [&](double ohm) {
    return LoadReading{ohm, source.open_volt / (1 + source.output_ohm / ohm)};
  };
  return propagated(readings_input({reading(light_ohm), reading(load_ohm)}, accuracy), line)
      .uncertainty()[0];
}

/// The best load over four decades, eight a doubling, with the lightest load read as the other one.
void advise(const std::vector<LoadReading>& readings, const SourceAccuracy& accuracy,
            SourceImpedance& result) {
  const double used_ohm = heaviest(readings).load_ohm;
  const double light_ohm = lightest_ohm(readings);
  SourceImpedance source = result;
  source.output_ohm = std::max(result.output_ohm, 0.0);
  const double least = std::max(accuracy.least_load_ohm, source.output_ohm);
  double best_ohm = used_ohm;
  double best = 0.9 * result.uncertainty_ohm;
  for (int step = 0; step <= 106; ++step) {
    const double load_ohm = least * std::exp2(step / 8.0);
    if (load_ohm > light_ohm / 1.5) break;
    const double u = expected_uncertainty(source, light_ohm, load_ohm, accuracy);
    if (!(u < best)) continue;
    best = u;
    best_ohm = load_ohm;
  }
  if (best_ohm == used_ohm) return;
  result.better_load_ohm = best_ohm;
  result.better_uncertainty_ohm = best;
}

/// Limits that nobody said are taken as 1 % here: this finds a source that is not linear.
SourceAccuracy at_least_one_percent(SourceAccuracy accuracy) {
  if (accuracy.meter_percent == 0 && accuracy.meter_counts_volt == 0) accuracy.meter_percent = 1;
  if (accuracy.load_percent == 0) accuracy.load_percent = 1;
  return accuracy;
}

/// How far a reading lies from what one output impedance gives, relative, and its uncertainty.
struct Residual {
  double relative, uncertainty;
  double size() const { return std::abs(relative) / uncertainty; }
};

Residual residual(const LoadReading& reading, const SourceImpedance& source,
                  const SourceAccuracy& accuracy) {
  const double drop = source.output_ohm / reading.load_ohm;
  const double meter = uncertainty_of_limit(accuracy.meter_percent / 100);
  const double counts = uncertainty_of_limit(accuracy.meter_counts_volt) / reading.volt;
  const double load = uncertainty_of_limit(accuracy.load_percent / 100) * drop / (1 + drop);
  return {reading.volt * (1 + drop) / source.open_volt - 1,
          std::sqrt(meter * meter + counts * counts + load * load)};
}

/// The output impedance that the lightest load and this one give: R1 R2 (V1-V2)/(V2 R1-V1 R2).
double pair_ohm(const LoadReading& light, const LoadReading& heavy) {
  return (light.volt - heavy.volt) / (heavy.volt / heavy.load_ohm - light.volt / light.load_ohm);
}

std::string pairs_text(const std::vector<LoadReading>& readings) {
  const LoadReading light =
      *std::max_element(readings.begin(), readings.end(),
                        [](const auto& a, const auto& b) { return a.load_ohm < b.load_ohm; });
  std::vector<std::string> pairs;
  for (const LoadReading& one : readings)
    if (one.load_ohm < light.load_ohm)
      pairs.push_back(short_number(std::max(pair_ohm(light, one), 1e-6)) + " ohm by " +
                      number_text(one.load_ohm) + " ohm");
  return listed(pairs);
}

/// Three loads or more that no one output impedance explains: its uncertainty then holds how far
/// they lie apart (Birge's ratio, R. T. Birge, Phys. Rev. 40, 1932, 207-227, from memory).
void check_agreement(const std::vector<LoadReading>& readings, const SourceAccuracy& accuracy,
                     SourceImpedance& result) {
  if (readings.size() < 3) return;
  const SourceAccuracy limits = at_least_one_percent(accuracy);
  double worst = 0, squares = 0;
  for (const LoadReading& reading : readings) {
    const double size = residual(reading, result, limits).size();
    worst = std::max(worst, size);
    squares += size * size;
  }
  if (worst < 3.5) return;
  const double birge = std::sqrt(squares / static_cast<double>(readings.size() - 2));
  const double fitted = propagated(readings_input(readings, limits), line).uncertainty()[0];
  result.uncertainty_ohm = std::max(result.uncertainty_ohm, birge * fitted);
  result.agrees = false;
  result.warnings.push_back(
      "the loads disagree: " + pairs_text(readings) +
      "; a current limit or another nonlinearity sets in, so read at a lower level or at lighter "
      "loads");
}

void describe(const std::vector<LoadReading>& readings, SourceImpedance& result) {
  if (!result.differs_from_zero)
    result.warnings.push_back(
        "the output impedance is not different from zero: " + number_text(result.output_ohm) +
        " ohm" +
        (result.uncertainty_ohm > 0
             ? " with a standard uncertainty of " + number_text(result.uncertainty_ohm) + " ohm"
             : ""));
  if (result.better_load_ohm)
    result.warnings.push_back("a load of about " + short_number(*result.better_load_ohm) +
                              " ohm would bring the standard uncertainty from " +
                              short_number(result.uncertainty_ohm) + " to " +
                              short_number(result.better_uncertainty_ohm) +
                              " ohm; mind the amplifier's current limit");
  if (std::isfinite(lightest_ohm(readings)))
    result.warnings.push_back(
        "no open-circuit reading: open and loaded is more certain than two loads");
}

}  // namespace

SourceImpedance source_impedance(const std::vector<LoadReading>& readings,
                                 const SourceAccuracy& accuracy) {
  check(readings, accuracy);
  const Estimate out = propagated(readings_input(readings, accuracy), line);
  if (!out.value.allFinite() || !out.covariance.allFinite())
    throw InputError("the accuracy given leaves the output impedance wholly open",
                     "use loads that lie further apart, or a better meter");
  SourceImpedance result{};
  result.output_ohm = out.value[0];
  result.open_volt = out.value[1];
  result.uncertainty_ohm = result.better_uncertainty_ohm = out.uncertainty()[0];
  const double noise_ohm = 2 * result.uncertainty_ohm + 1e-3 * heaviest(readings).load_ohm;
  if (!(result.open_volt > 0) || !(result.output_ohm >= -noise_ohm))
    throw InputError("no output impedance gives these voltages",
                     "check that each voltage stands beside its own load");
  check_agreement(readings, accuracy, result);
  result.differs_from_zero = result.output_ohm > 2 * result.uncertainty_ohm;
  advise(readings, accuracy, result);
  describe(readings, result);
  return result;
}

SourceCurve source_impedance(const std::vector<SourceReadings>& readings,
                             const SourceAccuracy& accuracy) {
  if (readings.empty()) throw InputError("there are no readings", "give two loads or more");
  const auto n = static_cast<Index>(readings.size());
  SourceCurve curve{Array(n), Array(n), Array(n), {}, {}};
  double worst = -1;
  int like_zero = 0, disagreeing = 0;
  for (Index i = 0; i < n; ++i) {
    const SourceImpedance one = source_impedance(readings[i].readings, accuracy);
    curve.frequency_hz[i] = readings[i].frequency_hz;
    curve.output_ohm[i] = one.output_ohm;
    curve.uncertainty_ohm[i] = one.uncertainty_ohm;
    like_zero += one.differs_from_zero ? 0 : 1;
    disagreeing += one.agrees ? 0 : 1;
    const double relative = one.uncertainty_ohm / std::max(std::abs(one.output_ohm), 1e-12);
    if (!(relative > worst)) continue;
    worst = relative;
    curve.better_load_ohm = one.better_load_ohm;
    curve.warnings = one.warnings;
  }
  if (disagreeing > 0)
    curve.warnings.push_back("the loads disagree at " + std::to_string(disagreeing) + " of " +
                             std::to_string(n) +
                             " frequencies; a current limit or another nonlinearity sets in");
  if (like_zero > 0)
    curve.warnings.push_back("the output impedance is not different from zero at " +
                             std::to_string(like_zero) + " of " + std::to_string(n) +
                             " frequencies");
  return curve;
}

}  // namespace ohmtilt
