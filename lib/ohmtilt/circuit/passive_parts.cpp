// The circuit-file half of passive_model.h.
#include <ohmtilt/circuit/passive_model.h>

#include <map>

namespace ohmtilt {
namespace {

/// Hands out names and nodes and collects parts.
class PartList {
 public:
  /// Adds the parts of one block between two nodes.
  void add(const Element& e, const std::string& from, const std::string& to) {
    if (e.kind == ElementKind::lossy_inductor)
      put("Z", "lossy-inductor", from, to, {{"k", e.k}, {"n", e.n}});
    if (e.ohm > 0) put("R", "resistor", from, to, {{"ohm", e.ohm}});
    if (e.henry > 0) put("L", "inductor", from, to, {{"henry", e.henry}});
    if (e.farad > 0) put("C", "capacitor", from, to, {{"farad", e.farad}});
  }

  void add(const ElementChain& chain, const std::string& from, const std::string& to) {
    std::string at = from;
    for (std::size_t i = 0; i < chain.size(); ++i) {
      const std::string next = i + 1 == chain.size() ? to : "n" + std::to_string(++nodes_);
      add(chain[i], at, next);
      at = next;
    }
  }

  std::vector<ModelPart> parts() const { return parts_; }

 private:
  void put(const std::string& letter, std::string kind, const std::string& from,
           const std::string& to, std::vector<ModelPart::Value> values) {
    parts_.push_back(
        {letter + std::to_string(++counts_[letter]), std::move(kind), from, to, std::move(values)});
  }

  std::vector<ModelPart> parts_;
  std::map<std::string, int> counts_;
  int nodes_ = 0;
};

}  // namespace

std::vector<ModelPart> parts(const PassiveModel& model) {
  PartList list;
  const std::string join = model.common.empty() ? "tip" : "join";
  list.add(model.common, "tip", join);
  for (const ElementChain& branch : model.branches) list.add(branch, join, "sleeve");
  return list.parts();
}

}  // namespace ohmtilt
