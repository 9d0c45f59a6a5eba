// The circuit-file half of passive_model.h.
#include <ohmtilt/model/passive_model.h>

#include <map>

namespace ohmtilt {
namespace {

/// Hands out names and nodes and collects parts.
class PartList {
 public:
  /// Adds the parts of one block between two nodes.
  void add(const ModelBlock& e, const std::string& from, const std::string& to) {
    if (e.kind == BlockKind::lossy_inductor)
      parts_.push_back(lossy_inductor(name("Z"), from, to, e.k, e.n));
    if (e.ohm > 0) parts_.push_back(resistor(name("R"), from, to, e.ohm));
    if (e.henry > 0) parts_.push_back(inductor(name("L"), from, to, e.henry));
    if (e.farad > 0) parts_.push_back(capacitor(name("C"), from, to, e.farad));
  }

  void add(const BlockChain& chain, const std::string& from, const std::string& to) {
    std::string at = from;
    for (std::size_t i = 0; i < chain.size(); ++i) {
      const std::string next = i + 1 == chain.size() ? to : "n" + std::to_string(++nodes_);
      add(chain[i], at, next);
      at = next;
    }
  }

  std::vector<Part> parts() const { return parts_; }

 private:
  std::string name(const std::string& letter) { return letter + std::to_string(++counts_[letter]); }

  std::vector<Part> parts_;
  std::map<std::string, int> counts_;
  int nodes_ = 0;
};

}  // namespace

std::vector<Part> parts(const PassiveModel& model) {
  PartList list;
  const std::string join = model.common.empty() ? "tip" : "join";
  list.add(model.common, "tip", join);
  for (const BlockChain& branch : model.branches) list.add(branch, join, "sleeve");
  return list.parts();
}

Circuit circuit_of(const PassiveModel& model, const std::string& title) {
  return Circuit({title, "sleeve", {{"terminals", "tip", "sleeve"}}, parts(model), ""});
}

}  // namespace ohmtilt
