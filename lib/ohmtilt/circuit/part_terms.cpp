#include <ohmtilt/circuit/part_terms.h>

namespace ohmtilt {

PartTerms::PartTerms(const NodalSystem& system, std::size_t part) : hz_(system.hz()) {
  for (const Element& element : system.equations().elements)
    if (element.part == part) elements_.push_back(&element);
}

std::vector<ComplexArray> PartTerms::at(const Part& part) const {
  const auto elementary = expanded(part);
  std::vector<ComplexArray> result;
  for (std::size_t e = 0; e < elements_.size(); ++e)
    for (auto& term : terms_of(elementary.at(e), elements_[e]->by_branch, hz_))
      result.push_back(std::move(term));
  return result;
}

std::vector<ComplexArray> PartTerms::derivative(const std::function<Part(double)>& scaled) const {
  constexpr double h = 1e-3;
  const auto p1 = at(scaled(1 + h)), m1 = at(scaled(1 - h));
  const auto p2 = at(scaled(1 + 2 * h)), m2 = at(scaled(1 - 2 * h));
  std::vector<ComplexArray> result;
  for (std::size_t t = 0; t < p1.size(); ++t)
    result.push_back((8.0 * (p1[t] - m1[t]) - (p2[t] - m2[t])) / (12 * h));
  return result;
}

}  // namespace ohmtilt
