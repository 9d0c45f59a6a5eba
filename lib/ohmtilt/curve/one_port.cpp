#include <ohmtilt/curve/one_port.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <limits>

namespace ohmtilt {

OnePort OnePort::resistance(double ohm) {
  const Band everywhere{std::numeric_limits<double>::min(), std::numeric_limits<double>::max()};
  return {everywhere, [ohm](const Array& hz) -> ComplexArray {
            return ComplexArray::Constant(hz.size(), ohm);
          }};
}

OnePort::OnePort(Band range, Evaluate evaluate) : range_(range), evaluate_(std::move(evaluate)) {}

ComplexArray OnePort::at(const Array& hz) const {
  for (const double f : hz)
    if (!range_.contains(f))
      throw InputError(number_text(f) + " Hz is outside the data, which reach from " +
                           number_text(range_.low_hz) + " to " + number_text(range_.high_hz) +
                           " Hz",
                       "ask within them");
  return evaluate_(hz);
}

Complex OnePort::at(double hz) const { return at(Array::Constant(1, hz))[0]; }

}  // namespace ohmtilt
