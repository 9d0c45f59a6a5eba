#include <ohmtilt/circuit/nodal_system.h>
#include <ohmtilt/circuit/sensitivity.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Terms = std::vector<ComplexArray>;

// All terms of one part of the circuit, its expansion included, for one set of values.
class PartTerms {
 public:
  PartTerms(const NodalSystem& system, std::size_t part) : hz_(system.hz()) {
    for (const Element& element : system.equations().elements)
      if (element.part == part) elements_.push_back(&element);
  }

  const std::vector<const Element*>& elements() const { return elements_; }

  /// d terms / d ln x by central differences of fourth order.
  Terms derivative(const Part& part, std::size_t value) const {
    constexpr double h = 1e-3;
    const Terms p1 = at(part, value, 1 + h), m1 = at(part, value, 1 - h);
    const Terms p2 = at(part, value, 1 + 2 * h), m2 = at(part, value, 1 - 2 * h);
    Terms result;
    for (std::size_t t = 0; t < p1.size(); ++t)
      result.push_back((8.0 * (p1[t] - m1[t]) - (p2[t] - m2[t])) / (12 * h));
    return result;
  }

 private:
  Terms at(Part part, std::size_t value, double factor) const {
    part.values[value].value *= factor;
    const auto elementary = expanded(part);
    Terms result;
    for (std::size_t e = 0; e < elements_.size(); ++e)
      for (auto& term : terms_of(elementary[e], elements_[e]->by_branch, hz_))
        result.push_back(std::move(term));
    return result;
  }

  const Array& hz_;
  std::vector<const Element*> elements_;
};

class Adjoint {
 public:
  Adjoint(const NodalSystem& system, const Port& drive, const Port& to)
      : of_term_(static_cast<std::size_t>(system.equations().terms)) {
    const Equations& equations = system.equations();
    for (const Stamp& stamp : equations.stamps)
      of_term_[static_cast<std::size_t>(stamp.term)].push_back(stamp);
    auto found = system.solve({port_current(equations, drive), port_current(equations, to, true)});
    response_ = std::move(found[0]);
    adjoint_ = std::move(found[1]);
    volt_ = port_volt(equations, to, response_);
    for (Eigen::Index f = 0; f < volt_.size(); ++f)
      if (volt_[f] == 0.0)
        throw InputError("nothing arrives at port \"" + printable(to.name, 60) + "\" at " +
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

// of(part terms, their derivative) gives the sensitivity to one value.
template <class Of>
std::vector<PartSensitivity> of_every_value(const NodalSystem& system, const Of& of) {
  std::vector<PartSensitivity> result;
  for (std::size_t p = 0; p < system.parts().size(); ++p) {
    const Part& part = system.parts()[p];
    if (part.kind == PartKind::voltage_source || part.kind == PartKind::current_source) continue;
    const PartTerms terms(system, p);
    for (std::size_t k = 0; k < part.values.size(); ++k)
      if (part.values[k].value != 0)
        result.push_back({part.name, part.values[k].key, of(terms, terms.derivative(part, k))});
  }
  return result;
}

}  // namespace

std::vector<PartSensitivity> impedance_sensitivities(const Circuit& circuit, const Array& hz,
                                                     std::string_view port) {
  const NodalSystem system(circuit, hz);
  const Adjoint adjoint(system, circuit.port(port), circuit.port(port));
  return of_every_value(system, [&](const PartTerms& part, const Terms& derivative) {
    return adjoint.of(part, derivative);
  });
}

std::vector<PartSensitivity> transfer_sensitivities(const Circuit& circuit, const Array& hz,
                                                    std::string_view drive, std::string_view to) {
  const NodalSystem system(circuit, hz);
  const Port& driven = circuit.port(drive);
  const Adjoint across(system, driven, circuit.port(to)), own(system, driven, driven);
  return of_every_value(system,
                        [&](const PartTerms& part, const Terms& derivative) -> ComplexArray {
                          return across.of(part, derivative) - own.of(part, derivative);
                        });
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
