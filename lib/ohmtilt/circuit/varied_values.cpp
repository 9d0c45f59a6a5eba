#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/varied_values.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

bool is_varied_key(const std::string& key) {
  return key != "n" && key != "coil_n" && key != "phase_deg";
}

/// What warmth changes of a part that says one coefficient.
bool is_main_value(const std::string& key) {
  return key == "ohm" || key == "henry" || key == "farad" || key == "dc_ohm" || key == "k";
}

const ToleranceDetail& detail_of(const Part& part) {
  static const ToleranceDetail none;
  return part.tolerance_detail ? *part.tolerance_detail : none;
}

/// The shares of the values of one part.
class PartShares {
 public:
  PartShares(const Part& part, DrawAxes& axes, const PartHeat& heat)
      : part_(part), detail_(detail_of(part)), axes_(axes), heat_(heat) {}

  /// Of the value under that key (of a curve, "").
  void add_to(VariedValue& value, const std::string& key) {
    value.tolerance = detail_.percent_of(key, part_.tolerance_percent) / 100;
    if (value.tolerance > 0) add_tolerance(value, key);
    const double ppm = key == "series_ohm"                 ? detail_.winding_ppm_per_kelvin
                       : key.empty() || is_main_value(key) ? detail_.ppm_per_kelvin
                                                           : 0;
    if (ppm != 0) add_warmth(value, ppm / 1e6);
  }

 private:
  DrawAxis axis(double tolerance) const {
    DrawAxis axis{detail_.distribution, 0, 1};
    if (detail_.distribution == Distribution::binned)
      axis.sorted_out = std::min(detail_.sorted_out_percent / 100 / tolerance, 1.0);
    return axis;
  }

  void add_tolerance(VariedValue& value, const std::string& key) {
    DrawAxis common = axis(value.tolerance);
    if (detail_.group.empty()) {
      value.shares.push_back({axes_.add(common), value.tolerance});
      return;
    }
    const double own = std::min(detail_.matching_percent / 100, value.tolerance);
    common.alike = detail_.group_in_one_channel ? 1 : 2;
    if (value.tolerance > own)
      value.shares.push_back(
          {axes_.shared("group " + detail_.group + ", " + key, common), value.tolerance - own});
    if (own > 0) value.shares.push_back({axes_.add({}), own});
  }

  /// The surroundings move all parts together, and so does how loud it has
  /// been.
  void add_warmth(VariedValue& value, double per_kelvin) {
    const DrawAxis together{Distribution::uniform, 0, 4};
    const double reach = (heat_.high_celsius - heat_.low_celsius) / 2;
    value.offset = per_kelvin * ((heat_.high_celsius + heat_.low_celsius) / 2 - reference_celsius);
    if (reach > 0) value.shares.push_back({axes_.shared("ambient", together), per_kelvin * reach});
    const auto watt = heat_.watt.find(part_.name);
    if (watt == heat_.watt.end()) return;
    const double warmer = per_kelvin * detail_.kelvin_per_watt * watt->second;
    if (warmer != 0) value.shares.push_back({axes_.shared("warming", together), warmer, true});
  }

  const Part& part_;
  const ToleranceDetail& detail_;
  DrawAxes& axes_;
  const PartHeat& heat_;
};

/// No draw may leave nothing of a value.
void refuse_vanishing(const Part& part, const VariedValue& value) {
  double least = 1 + value.offset;
  for (const auto& share : value.shares)
    least -= share.from_zero ? std::max(-share.part, 0.0) : std::abs(share.part);
  if (least > 0) return;
  throw InputError("part \"" + printable(part.name, 60) +
                       "\": tolerance and temperature together leave nothing of its value",
                   "give smaller ones");
}

void keep_if_varied(const Part& part, VariedValue value, std::vector<VariedValue>& values) {
  refuse_vanishing(part, value);
  if (!value.shares.empty() || value.offset != 0) values.push_back(std::move(value));
}

void add_values(const Part& part, std::size_t at, PartShares& shares,
                std::vector<VariedValue>& values) {
  for (std::size_t k = 0; k < part.values.size(); ++k) {
    const PartValue& value = part.values[k];
    if (value.value == 0 || !is_varied_key(value.key)) continue;
    VariedValue varied{{at, k}, value.value, 0, false, {}, 0};
    shares.add_to(varied, value.key);
    keep_if_varied(part, std::move(varied), values);
  }
}

/// An ideal transformer of ratio r in front of a curve makes its impedance r^2 times as large.
Part scale_in_front(Part& curve) {
  const std::string inner = "behind the scale of " + curve.name;
  Part scale =
      four_terminal(PartKind::transformer, "scale of " + curve.name,
                    {curve.nodes[0], curve.nodes[1], inner, curve.nodes[1]}, {{"ratio", 1}});
  curve.nodes[0] = inner;
  return scale;
}

}  // namespace

std::size_t DrawAxes::add(const DrawAxis& axis) {
  axes_.push_back(axis);
  return axes_.size() - 1;
}

std::size_t DrawAxes::shared(const std::string& name, const DrawAxis& axis) {
  const auto found = named_.find(name);
  if (found == named_.end()) return named_[name] = add(axis);
  const DrawAxis& known = axes_[found->second];
  if (known.distribution != axis.distribution || known.alike != axis.alike ||
      std::abs(known.sorted_out - axis.sorted_out) > 1e-9)
    throw InputError("the parts of " + printable(name, 80) + " differ in how they are distributed",
                     "give them the same distribution and group_in_one_channel");
  return found->second;
}

double VariedValue::moved(double relative) const {
  const double factor = 1 + relative;
  return nominal * (is_squared ? std::sqrt(factor) : factor);
}

VariedCircuit varied_circuit(const Circuit& circuit, DrawAxes& axes, const PartHeat& heat) {
  CircuitDraft draft = circuit.draft();
  std::vector<VariedValue> values;
  for (std::size_t i = 0; i < circuit.parts().size(); ++i) {
    const Part part = draft.parts[i];
    if (!(part.tolerance_percent > 0) && !part.tolerance_detail) continue;
    PartShares shares(part, axes, heat);
    if (part.kind != PartKind::curve) {
      add_values(part, i, shares, values);
      continue;
    }
    VariedValue varied{{draft.parts.size(), 0}, 1, 0, true, {}, 0};
    shares.add_to(varied, "");
    refuse_vanishing(part, varied);
    if (varied.shares.empty() && varied.offset == 0) continue;
    draft.parts.push_back(scale_in_front(draft.parts[i]));
    values.push_back(std::move(varied));
  }
  return {Circuit(std::move(draft)), std::move(values)};
}

VariedCircuit varied_circuit(const Circuit& circuit) {
  DrawAxes axes;
  return varied_circuit(circuit, axes);
}

bool is_resistive(const Circuit& circuit) {
  return std::all_of(circuit.parts().begin(), circuit.parts().end(),
                     [](const Part& part) { return rule_of(part.kind).memoryless; });
}

}  // namespace ohmtilt
