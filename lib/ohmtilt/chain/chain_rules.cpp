// What is physical in a chain: one rule a key, for files and for chains made in memory.
#include <ohmtilt/base/physical.h>
#include <ohmtilt/chain/chain_keys.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

using Range = ChainRange;

/// Collects the first fault of several values.
class Rules {
 public:
  void add(ChainFault fault) {
    if (!first_) first_ = std::move(fault);
  }
  void value(const std::string& key, double value, Range range) {
    if (range == Range::decibels) return between(key, value, -300, 300);
    if (!std::isfinite(value)) return add({key, "is not finite", "write a finite number"});
    if ((range == Range::positive && !(value > 0)) || (range == Range::not_negative && value < 0))
      return add(
          {key, "is " + number_text(value) + ", which is not physical",
           range == Range::positive ? "it should be more than 0" : "it should be 0 or more"});
    if (!magnitude_is_physical(value))
      add({key, "is " + number_text(value) + ", beyond anything physical", "check its unit"});
  }
  void value(const std::string& key, const std::optional<double>& number, Range range) {
    if (number) value(key, *number, range);
  }
  void between(const std::string& key, double value, double low, double high) {
    if (!(value >= low && value <= high))
      add({key, "is " + number_text(value),
           "it should be from " + number_text(low) + " to " + number_text(high)});
  }
  const std::optional<ChainFault>& first() const { return first_; }

 private:
  std::optional<ChainFault> first_;
};

/// A shunt of zero is a short, and a bridge of zero may close a loop of zeros.
bool must_resist(const std::string& key) {
  return key == "bridge_ohm" || key.find("shunt") != std::string::npos;
}

void rules_of(const Pad& pad, Rules& rules) {
  const auto& keys = pad_keys(pad.topology);
  if (pad.ohm.size() != keys.size())
    return rules.add({"topology", "has " + std::to_string(pad.ohm.size()) + " resistances",
                      "give " + listed(keys)});
  for (std::size_t i = 0; i < keys.size(); ++i)
    rules.value(keys[i], pad.ohm[i], must_resist(keys[i]) ? Range::positive : Range::not_negative);
  if (!(pad.tolerance_percent >= 0 && pad.tolerance_percent < 100))
    rules.add({"tolerance_percent", "is " + number_text(pad.tolerance_percent),
               "it should be from 0 to less than 100"});
}

template <HasChainKeys Of>
void rules_of(const Of& of, Rules& rules) {
  each_chain_key(of, [&](const ChainKey<Of>& key, const auto& value) {
    using Value = std::decay_t<decltype(value)>;
    if constexpr (std::is_same_v<Value, double> || std::is_same_v<Value, std::optional<double>>)
      rules.value(key.key, value, key.range);
    else if constexpr (std::is_same_v<Value, std::vector<double>>)
      for (const double one : value) rules.value(key.key, one, key.range);
  });
}

void rules_of(const VolumeStage& volume, Rules& rules) {
  rules.value("total_ohm", volume.total_ohm, Range::positive);
  rules.between("travel_percent", volume.travel_percent, 0, 100);
  if (volume.travel_percent == 0)
    rules.add({"travel_percent", "is 0, which is silence", "give a travel above 0"});
  rules.value("travel_percent", volume.travel_percent, Range::positive);
}

void rules_of(const CircuitStage& stage, Rules& rules) {
  const auto has_port = [&](const std::string& name) {
    const auto& ports = stage.circuit->ports();
    return std::any_of(ports.begin(), ports.end(), [&](const Port& p) { return p.name == name; });
  };
  if (!stage.circuit) return rules.add({"file", "is missing", "name the circuit's file"});
  if (has_port("in") && has_port("out")) return;
  std::vector<std::string> names;
  for (const auto& port : stage.circuit->ports())
    names.push_back("`" + printable(port.name, 60) + "`");
  rules.add({"file",
             "names a circuit without the ports `in` and `out` (it has " + listed(names) + ")",
             "give it a port towards the source and one towards the earphone"});
}

void rules_of(const TwoPortStage& stage, Rules& rules) {
  if (!stage.two_port) rules.add({"file", "is missing", "name the file of its parameters (.s2p)"});
}

}  // namespace

std::optional<ChainFault> fault_of(const PowerPoint& point) {
  Rules rules;
  rules.value("load_ohm", point.load_ohm, Range::positive);
  rules.value("watt", point.watt, Range::positive);
  if (point.duration_ms != continuous_ms)
    rules.value("duration_ms", point.duration_ms, Range::positive);
  if (point.distortion_percent)
    rules.between("distortion_percent", *point.distortion_percent, 0, 100);
  return rules.first();
}

std::optional<ChainFault> fault_of(const VolumeLaw& law) {
  Rules rules;
  if (const auto* steps = std::get_if<DecibelSteps>(&law))
    rules.value("step_db", steps->step_db, Range::positive);
  const auto* table = std::get_if<VolumeTable>(&law);
  if (table == nullptr) return rules.first();
  const Array& travel = table->travel_percent;
  const Eigen::Index rows = travel.size();
  if (rows < 2 || table->gain_db.size() != rows || table->imbalance_db.size() != rows)
    rules.add({"file", "holds a table of fewer than two rows", "give travel_percent and gain_db"});
  else if (!travel.isFinite().all() || !table->gain_db.isFinite().all() ||
           !table->imbalance_db.isFinite().all())
    rules.add({"file", "holds a number that is not finite", "give finite decibels"});
  else if (table->imbalance_db.minCoeff() < 0)
    rules.add({"file", "holds an imbalance below 0 dB", "give its size, 0 or more"});
  else if (travel[0] < 0 || travel[rows - 1] > 100 ||
           !(travel.tail(rows - 1) > travel.head(rows - 1)).all())
    rules.add({"file", "holds a travel that does not rise from 0 to 100", "sort its rows"});
  return rules.first();
}

std::optional<ChainFault> fault_of(const Source& source) {
  Rules rules;
  rules.value("output_ohm", source.output_ohm, Range::not_negative);
  if (source.output_curve && source.output_ohm != 0)
    rules.add({"output_curve", "stands beside `output_ohm`", "give one of them"});
  rules_of(source, rules);
  if (source.balanced && source.shared_return_ohm.value_or(0) > 0)
    rules.add({"shared_return_ohm", "stands at a balanced output, which has no common return",
               "leave it out, or say balanced = false"});
  if (source.volume)
    if (const auto fault = fault_of(*source.volume)) rules.add(*fault);
  for (const auto& point : source.power)
    if (const auto fault = fault_of(point)) rules.add(*fault);
  return rules.first();
}

std::optional<ChainFault> fault_of(const Stage& stage) {
  Rules rules;
  std::visit([&](const auto& one) { rules_of(one, rules); }, stage);
  return rules.first();
}

}  // namespace ohmtilt
