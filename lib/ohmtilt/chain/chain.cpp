#include <ohmtilt/chain/chain.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>

namespace ohmtilt {
namespace {

struct Topology {
  PadTopology topology;
  std::string_view name;
  std::vector<std::string> keys;
};

const std::vector<Topology>& topologies() {
  static const std::vector<Topology> all{
      {PadTopology::series, "series", {"series_ohm"}},
      {PadTopology::L, "L", {"series_ohm", "shunt_ohm"}},
      {PadTopology::T, "T", {"series_ohm", "shunt_ohm", "second_series_ohm"}},
      {PadTopology::pi, "pi", {"shunt_ohm", "series_ohm", "second_shunt_ohm"}},
      {PadTopology::H, "H", {"series_ohm", "shunt_ohm", "second_series_ohm"}},
      {PadTopology::O, "O", {"shunt_ohm", "series_ohm", "second_shunt_ohm"}},
      {PadTopology::bridged_T,
       "bridged-T",
       {"series_ohm", "second_series_ohm", "shunt_ohm", "bridge_ohm"}},
      {PadTopology::U, "U", {"series_ohm", "shunt_ohm"}}};
  return all;
}

[[noreturn]] void refuse(const std::string& file, const std::string& who, const ChainFault& fault) {
  const std::string wrong = who + ": `" + printable(fault.key, 60) + "` " + fault.wrong;
  if (file.empty()) throw InputError(wrong, fault.remedy);
  throw InputError(Place{file}, wrong, fault.remedy);
}

bool attenuates(const Stage& stage) {
  return std::holds_alternative<Pad>(stage) || std::holds_alternative<VolumeStage>(stage);
}

}  // namespace

std::string_view topology_name(PadTopology topology) {
  return topologies()[static_cast<std::size_t>(topology)].name;
}

std::optional<PadTopology> topology_of_name(std::string_view name) {
  for (const auto& one : topologies())
    if (one.name == name) return one.topology;
  return std::nullopt;
}

std::vector<std::string> topology_names() {
  std::vector<std::string> names;
  for (const auto& one : topologies()) names.emplace_back(one.name);
  return names;
}

const std::vector<std::string>& pad_keys(PadTopology topology) {
  return topologies()[static_cast<std::size_t>(topology)].keys;
}

double Pad::value(std::string_view key) const {
  const auto& keys = pad_keys(topology);
  const auto found = std::find(keys.begin(), keys.end(), key);
  const auto index = static_cast<std::size_t>(found - keys.begin());
  if (index >= ohm.size())
    throw InputError(
        std::string(topology_name(topology)) + " pad has no `" + printable(key, 60) + "`",
        "it has " + listed(keys));
  return ohm[index];
}

double VolumeStage::lower_ohm() const {
  return total_ohm *
         std::visit([&](const auto& taper) { return track_fraction(taper, travel_percent); }, law);
}

const std::vector<std::string>& stage_kind_names() {
  // In the order of Stage.
  static const std::vector<std::string> names{"pad",    "series",  "cable",   "transformer",
                                              "volume", "circuit", "two-port"};
  return names;
}

std::string_view kind_name(const Stage& stage) { return stage_kind_names().at(stage.index()); }

std::string stage_label(std::size_t index, const Stage& stage) {
  return "stage " + std::to_string(index + 1) + ": " + std::string(kind_name(stage));
}

Chain::Chain(std::string title, Source source, std::vector<Stage> stages, std::string file)
    : title_(std::move(title)),
      source_(std::move(source)),
      stages_(std::move(stages)),
      file_(std::move(file)) {
  if (const auto fault = fault_of(source_)) refuse(file_, "source", *fault);
  if (stages_.size() > stage_limit)
    refuse(file_, "chain", {"stage", "stands there more than 100 times", "join some of them"});
  for (std::size_t i = 0; i < stages_.size(); ++i)
    if (const auto fault = fault_of(stages_[i])) refuse(file_, stage_label(i, stages_[i]), *fault);
}

Chain Chain::with_stages(std::vector<Stage> stages) const {
  return Chain(title_, source_, std::move(stages), file_).with_label(label_);
}

Chain Chain::with_label(std::string label) const {
  Chain named = *this;
  named.label_ = std::move(label);
  return named;
}

Chain without_attenuation(const Chain& chain) {
  std::vector<Stage> kept;
  for (const auto& stage : chain.stages())
    if (!attenuates(stage)) kept.push_back(stage);
  return chain.with_stages(std::move(kept));
}

}  // namespace ohmtilt
