#pragma once
#include <ohmtilt/base/frequency_grid.h>
#include <plots/panel.h>

namespace ohmtilt::plots {

/// The finite values of several arrays, from the smallest to the largest.
struct Limits {
  double low = 0, high = 0;
  bool empty = true;
  void add(double value);
  void add(const Array& values);
};

/// A logarithmic frequency axis that holds data: 20 Hz to 20 kHz, or the labelled ticks around a
/// narrower band (ticks at 1, 2 and 5 in each decade: 20, 50, 100 ... 1k ... 20k). Data that go
/// less than a third of an octave beyond a tick end the axis themselves.
Axis frequency_axis(const Band& data);

/// A linear axis around limits with headroom on both sides, at least least_span wide and then
/// centred, with about five round ticks. with_sign writes "+2" for 2.
struct LinearAxis {
  std::string label;
  double least_span = 1;
  double headroom = 0.1;  ///< of the span, on each side
  bool with_sign = false;
};
Axis linear_axis(const Limits& limits, const LinearAxis& options);

/// Decibels of a deviation: includes 0, at least 1 dB from end to end, so that what cannot be heard
/// looks flat.
Axis deviation_axis(Limits limits);

/// Decibels of a level: at least 10 dB from end to end.
Axis level_axis(const Limits& limits);

/// A logarithmic axis of a positive quantity (ohm), at least a factor of two from end to end.
Axis log_axis(const Limits& limits, const std::string& label);

/// Degrees, symmetric, with ticks at -step, 0 and +step, a step of 15 to 180.
Axis degree_axis(const Limits& limits);

/// From exactly low to high (milliseconds from 0, for instance) with about six round ticks.
Axis exact_axis(double low, double high, const std::string& label);

/// Names at 0.5, 1.5, ... on an axis from 0 to their number: rows and columns of a heat map.
Axis category_axis(const std::vector<std::string>& names);

/// "50", "1k", "12.5k": a frequency in hertz as an axis shows it.
std::string short_hz(double hz);

/// "50 Hz", "3.1 kHz", with at most four figures.
std::string hz_text(double hz);

}  // namespace ohmtilt::plots
