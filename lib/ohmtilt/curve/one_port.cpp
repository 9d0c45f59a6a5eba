#include <ohmtilt/curve/one_port.h>
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
  require_within(range_, hz);
  return evaluate_(hz);
}

Complex OnePort::at(double hz) const { return at(Array::Constant(1, hz))[0]; }

}  // namespace ohmtilt
