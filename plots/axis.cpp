#include <fmt/format.h>
#include <plots/axis.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace ohmtilt::plots {
namespace {

/// The largest of 1, 2, 5 times a power of ten that gives at least wanted steps over span.
double round_step(double span, double wanted) {
  const double raw = span / wanted;
  const double decade = std::pow(10.0, std::floor(std::log10(raw)));
  for (const double factor : {5.0, 2.0})
    if (factor * decade <= raw * (1 + 1e-9)) return factor * decade;
  return decade;
}

std::string plain(double value) { return fmt::format("{:.4g}", value == 0 ? 0.0 : value); }

std::vector<Tick> round_ticks(double low, double high, double step, bool with_sign) {
  std::vector<Tick> ticks;
  const double slack = 1e-6;
  for (double k = std::ceil(low / step - slack); k <= std::floor(high / step + slack); ++k) {
    const double value = k == 0 ? 0.0 : k * step;
    ticks.push_back({value, (with_sign && value > 0 ? "+" : "") + plain(value)});
  }
  return ticks;
}

/// Ticks at these factors in every decade from low to high; the others of 1 to 9 as small ticks.
std::vector<Tick> decade_ticks(double low, double high, const std::vector<double>& factors,
                               std::string (*text)(double)) {
  std::vector<Tick> ticks;
  const auto labelled = [&](double f) {
    return std::find(factors.begin(), factors.end(), f) != factors.end();
  };
  const double slack = 1e-9;
  for (double decade = std::floor(std::log10(low)); decade <= std::log10(high); ++decade) {
    for (const double f : {1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0}) {
      const double at = f * std::pow(10.0, decade);
      if (at < low * (1 - slack) || at > high * (1 + slack)) continue;
      if (labelled(f))
        ticks.push_back({at, text(at)});
      else if (f == std::floor(f))
        ticks.push_back({at, ""});
    }
  }
  return ticks;
}

std::size_t with_text(const std::vector<Tick>& ticks) {
  return static_cast<std::size_t>(
      std::count_if(ticks.begin(), ticks.end(), [](const Tick& t) { return !t.text.empty(); }));
}

/// Large numbers as "20k", not as 2e+04.
std::string short_number(double value) { return value < 1e4 ? plain(value) : short_hz(value); }

/// The first of ever finer sets of ticks that has at least three texts.
std::vector<Tick> enough_decade_ticks(double low, double high) {
  const std::array<std::vector<double>, 4> sets = {std::vector<double>{1},
                                                   {1, 2, 5},
                                                   {1, 1.5, 2, 3, 5, 7},
                                                   {1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9}};
  std::vector<Tick> ticks;
  for (const auto& factors : sets) {
    ticks = decade_ticks(low, high, factors, short_number);
    if (with_text(ticks) >= 3) return ticks;
  }
  return ticks;
}

/// The next 1, 2 or 5 times a power of ten at or below hz; hz itself where it is within a third of
/// an octave below the tick above, so that third-octave bands are not cut and no axis is half
/// empty.
double axis_start(double hz) {
  double below = 0, above = 0;
  const double decade = std::pow(10.0, std::floor(std::log10(hz)));
  for (const double f : {1.0, 2.0, 5.0, 10.0}) {
    if (f * decade <= hz * (1 + 1e-9)) below = f * decade;
    if (f * decade > hz * (1 + 1e-9) && above == 0) above = f * decade;
  }
  const bool just_below = hz * 1.26 >= above && above > 0 && below < hz * (1 - 1e-9);
  return just_below ? hz : below;
}

double axis_end(double hz) { return 1e6 / axis_start(1e6 / hz); }

}  // namespace

double Axis::fraction(double value) const {
  if (scale == Scale::linear) return (value - low) / (high - low);
  return std::log(value / low) / std::log(high / low);
}

void Limits::add(double value) {
  if (!std::isfinite(value)) return;
  low = empty ? value : std::min(low, value);
  high = empty ? value : std::max(high, value);
  empty = false;
}

void Limits::add(const Array& values) {
  for (const double value : values) add(value);
}

std::string short_hz(double hz) { return hz < 1000 ? plain(hz) : plain(hz / 1000) + "k"; }

std::string hz_text(double hz) { return hz < 1000 ? plain(hz) + " Hz" : plain(hz / 1000) + " kHz"; }

Axis frequency_axis(const Band& data) {
  Axis axis;
  axis.label = "Frequency, Hz";
  axis.scale = Scale::logarithmic;
  axis.low = axis_start(data.low_hz);
  axis.high = std::max(axis_end(data.high_hz), 2 * axis.low);
  axis.ticks = decade_ticks(axis.low, axis.high, {1, 2, 5}, short_hz);
  return axis;
}

Axis linear_axis(const Limits& limits, const LinearAxis& options) {
  const double span = std::max(limits.high - limits.low, 0.0);
  const double middle = limits.low + span / 2;
  const double half = std::max(span * (0.5 + options.headroom), options.least_span / 2);
  Axis axis;
  axis.label = options.label;
  axis.low = middle - half;
  axis.high = middle + half;
  axis.ticks = round_ticks(axis.low, axis.high, round_step(2 * half, 4), options.with_sign);
  return axis;
}

Axis deviation_axis(Limits limits) {
  limits.add(0);
  return linear_axis(limits, {.label = "dB", .least_span = 1, .headroom = 0.1, .with_sign = true});
}

Axis level_axis(const Limits& limits) {
  return linear_axis(limits, {.label = "dB", .least_span = 10});
}

Axis log_axis(const Limits& limits, const std::string& label) {
  const double low = limits.low > 0 ? limits.low : 1;
  const double high = limits.high > low ? limits.high : low;
  const double room =
      std::max(std::pow(high / low, 0.08), std::sqrt(std::max(2 * low / high, 1.0)));
  Axis axis;
  axis.label = label;
  axis.scale = Scale::logarithmic;
  axis.low = low / room;
  axis.high = high * room;
  axis.ticks = enough_decade_ticks(axis.low, axis.high);
  return axis;
}

Axis degree_axis(const Limits& limits) {
  const double largest = std::max(-limits.low, limits.high);
  double step = 15;
  for (const double wider : {30.0, 45.0, 90.0, 180.0})
    if (largest > 1.25 * step) step = wider;
  while (largest > 1.25 * step) step *= 2;
  Axis axis;
  axis.label = "degrees";
  axis.high = std::max(largest * 1.1, 1.2 * step);
  axis.low = -axis.high;
  axis.ticks = round_ticks(axis.low, axis.high, step, true);
  return axis;
}

Axis exact_axis(double low, double high, const std::string& label) {
  Axis axis;
  axis.label = label;
  axis.low = low;
  axis.high = high > low ? high : low + 1;
  axis.ticks = round_ticks(axis.low, axis.high, round_step(axis.high - axis.low, 5), false);
  return axis;
}

Axis category_axis(const std::vector<std::string>& names) {
  Axis axis;
  axis.high = static_cast<double>(std::max<std::size_t>(names.size(), 1));
  axis.grid = false;
  for (std::size_t i = 0; i < names.size(); ++i)
    axis.ticks.push_back({static_cast<double>(i) + 0.5, names[i]});
  return axis;
}

}  // namespace ohmtilt::plots
