#pragma once
#include <functional>
#include <vector>

#include <ohmtilt/circuit/nodal_system.h>

namespace ohmtilt {

/// The factors that one part of a circuit, its expansion included, has in the equations: those of
/// its first elementary part, then of its second, and so on. Refers to system.
class PartTerms {
 public:
  PartTerms(const NodalSystem& system, std::size_t part);

  const std::vector<const Element*>& elements() const { return elements_; }
  /// Of the part with such values; they must not change which elementary parts there are.
  std::vector<ComplexArray> at(const Part& part) const;
  /// d terms / d ln x, where scaled(r) is the part with r times the value x, by central differences
  /// of fourth order, about 1e-11.
  std::vector<ComplexArray> derivative(const std::function<Part(double)>& scaled) const;

 private:
  const Array& hz_;
  std::vector<const Element*> elements_;
};

}  // namespace ohmtilt
