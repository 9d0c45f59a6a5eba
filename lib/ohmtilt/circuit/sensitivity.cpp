#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/part_terms.h>
#include <ohmtilt/circuit/sensitivity.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Terms = std::vector<ComplexArray>;

/// d terms / d ln x of one value x of a part.
Terms derivative_of(const PartTerms& terms, const Part& part, std::size_t value) {
  return terms.derivative([&](double factor) {
    Part scaled = part;
    scaled.values[value].value *= factor;
    return scaled;
  });
}

class Adjoint {
 public:
  Adjoint(const NodalSystem& system, const Port& port)
      : of_term_(static_cast<std::size_t>(system.equations().terms)) {
    const Equations& equations = system.equations();
    for (const Stamp& stamp : equations.stamps)
      of_term_[static_cast<std::size_t>(stamp.term)].push_back(stamp);
    auto found = system.solve({port_current(equations, port), port_current(equations, port, true)});
    response_ = std::move(found[0]);
    adjoint_ = std::move(found[1]);
    volt_ = port_volt(equations, port, response_);
    for (Eigen::Index f = 0; f < volt_.size(); ++f)
      if (volt_[f] == 0.0)
        throw InputError("the impedance at port \"" + printable(port.name, 60) + "\" is 0 at " +
                             number_text(system.hz()[f]) + " Hz",
                         "its sensitivity is not defined; ask another port");
  }

  /// d ln v / d ln x = -(adjoint^T dA response) / v.
  ComplexArray of(const PartTerms& part, const Terms& derivative) const {
    ComplexArray change = ComplexArray::Zero(volt_.size());
    std::size_t next = 0;
    for (const Element* element : part.elements())
      for (int t = 0; t < element->terms; ++t, ++next)
        change -= derivative[next] * stamped(element->first_term + t);
    return change / volt_;
  }

 private:
  ComplexArray stamped(int term) const {
    ComplexArray sum = ComplexArray::Zero(volt_.size());
    for (const Stamp& stamp : of_term_[static_cast<std::size_t>(term)])
      sum += stamp.sign * adjoint_.col(stamp.row) * response_.col(stamp.column);
    return sum;
  }

  std::vector<std::vector<Stamp>> of_term_;
  Solution response_, adjoint_;
  ComplexArray volt_;
};

}  // namespace

std::vector<PartSensitivity> impedance_sensitivities(const Circuit& circuit, const Array& hz,
                                                     std::string_view port) {
  const NodalSystem system(circuit, hz);
  const Adjoint adjoint(system, circuit.port(port));
  std::vector<PartSensitivity> result;
  for (std::size_t p = 0; p < system.parts().size(); ++p) {
    const Part& part = system.parts()[p];
    if (is_independent_source(part.kind)) continue;
    const PartTerms terms(system, p);
    for (std::size_t k = 0; k < part.values.size(); ++k)
      if (part.values[k].value != 0)
        result.push_back(
            {part.name, part.values[k].key, adjoint.of(terms, derivative_of(terms, part, k))});
  }
  return result;
}

std::vector<SensitivityPeak> sensitivity_peaks(const std::vector<PartSensitivity>& sensitivities,
                                               const Array& hz) {
  std::vector<SensitivityPeak> result;
  for (const auto& s : sensitivities) {
    Eigen::Index at = 0;
    s.value.real().abs().maxCoeff(&at);
    result.push_back({s.part, s.quantity, s.value[at].real(), hz[at]});
  }
  std::stable_sort(result.begin(), result.end(), [](const auto& a, const auto& b) {
    return std::abs(a.peak) > std::abs(b.peak);
  });
  return result;
}

}  // namespace ohmtilt
