#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/two_port.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <memory>

namespace ohmtilt {
namespace {

constexpr double active_share = 1e-3, one_way_limit = 1e-2;

/// A complex quantity over ln f.
class ComplexInterpolator {
 public:
  ComplexInterpolator(const Array& hz, const ComplexArray& values)
      : real_(hz, values.real()), imaginary_(hz, values.imag()) {}
  ComplexArray at(const Array& hz) const {
    ComplexArray result(hz.size());
    result.real() = real_.at(hz);
    result.imag() = imaginary_.at(hz);
    return result;
  }

 private:
  LogInterpolator real_, imaginary_;
};

struct ScatteringInterpolator {
  ComplexInterpolator s11, s12, s21, s22;
};

std::string at_worst(const Array& values, const Array& hz, double& worst) {
  Eigen::Index where = 0;
  worst = values.maxCoeff(&where);
  return hz_text(hz[where]);
}

}  // namespace

TwoPort::TwoPort(Band range, std::array<double, 2> reference_ohm, Evaluate evaluate)
    : range_(range), reference_ohm_(reference_ohm), evaluate_(std::move(evaluate)) {
  for (const double ohm : reference_ohm_)
    if (!(ohm > 0) || !std::isfinite(ohm))
      throw InputError("a reference of " + number_text(ohm) + " ohm is not possible",
                       "give a resistance above 0 ohm");
}

Scattering TwoPort::at(const Array& hz) const {
  require_within(range_, hz, "the two-port's data");
  return evaluate_(hz);
}

TwoPort TwoPort::reversed() const {
  return {range_, {reference_ohm_[1], reference_ohm_[0]}, [of = evaluate_](const Array& hz) {
            Scattering s = of(hz);
            return Scattering{s.s22, s.s21, s.s12, s.s11};
          }};
}

TwoPort two_port(const TwoPortData& data) {
  const Array& hz = data.frequency_hz;
  const auto by = std::make_shared<const ScatteringInterpolator>(ScatteringInterpolator{
      {hz, data.s.s11}, {hz, data.s.s12}, {hz, data.s.s21}, {hz, data.s.s22}});
  return {{hz[0], hz[hz.size() - 1]}, data.reference_ohm, [by](const Array& at) {
            return Scattering{by->s11.at(at), by->s12.at(at), by->s21.at(at), by->s22.at(at)};
          }};
}

Array largest_wave(const Scattering& s) {
  // Of the 2 x 2 matrix: the root of the larger eigenvalue of S^H S, by trace and determinant.
  const Array power = s.s11.abs2() + s.s12.abs2() + s.s21.abs2() + s.s22.abs2();
  const Array determinant = (s.s11 * s.s22 - s.s12 * s.s21).abs2();
  return (power / 2 + (power.square() / 4 - determinant).max(0).sqrt()).sqrt();
}

Array one_way_share(const Scattering& s) {
  const Array larger = s.s21.abs().max(s.s12.abs());
  return (larger > 0).select((s.s21 - s.s12).abs() / larger.max(1e-300), 0);
}

std::vector<std::string> two_port_warnings(const TwoPortData& data) {
  std::vector<std::string> warnings;
  const std::string who = "the two-port " + printable(data.notes.title, 60);
  double worst = 0;
  std::string hz = at_worst(largest_wave(data.s), data.frequency_hz, worst);
  if (worst > 1 + active_share)
    warnings.push_back(
        who + " gives out more power than it takes in, most at " + hz +
        ": it is an amplifier, or its measurement is off; its own noise is not known");
  hz = at_worst(one_way_share(data.s), data.frequency_hz, worst);
  if (worst > one_way_limit)
    warnings.push_back(who + " is not the same in both directions, most at " + hz +
                       ": no network of resistors, coils and capacitors is like that");
  return warnings;
}

}  // namespace ohmtilt
