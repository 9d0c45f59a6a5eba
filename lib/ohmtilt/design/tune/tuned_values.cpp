#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/design/tune/tuned_values.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>

namespace ohmtilt {
namespace {

bool may_be_tuned(const Part& part, const PartValue& value) {
  if (is_independent_source(part.kind)) return false;
  return value.value != 0 && value.key != "n" && value.key != "coil_n" && value.key != "phase_deg";
}

void add_circuit(const Circuit& circuit, const std::string& prefix,
                 std::optional<std::size_t> stage, std::vector<TunableValue>& values) {
  for (std::size_t p = 0; p < circuit.parts().size(); ++p) {
    const Part& part = circuit.parts()[p];
    for (std::size_t v = 0; v < part.values.size(); ++v)
      if (may_be_tuned(part, part.values[v]))
        values.push_back(
            {prefix + part.name, part.values[v].key, part.values[v].value, stage, 0, {p, v}});
  }
}

/// "series_ohm" is the value of "... series".
std::string stem_of(const std::string& key) { return key.substr(0, key.size() - 4); }

void add_stage_values(const Stage& stage, std::size_t index, std::vector<TunableValue>& values) {
  const std::string label = stage_label(index, stage);
  const auto add = [&](const std::string& what, const char* key, double value, std::size_t arm) {
    values.push_back({label + "." + what, key, value, index, arm, {}});
  };
  if (const auto* pad = std::get_if<Pad>(&stage))
    for (std::size_t i = 0; i < pad->ohm.size(); ++i)
      add(stem_of(pad_keys(pad->topology)[i]), "ohm", pad->ohm[i], i);
  if (const auto* series = std::get_if<SeriesStage>(&stage)) {
    add("ohm", "ohm", series->ohm, 0);
    if (series->henry > 0) add("ohm", "henry", series->henry, 1);
  }
  if (const auto* transformer = std::get_if<TransformerStage>(&stage))
    add("windings", "ratio", transformer->ratio, 0);
  if (const auto* circuit = std::get_if<CircuitStage>(&stage))
    add_circuit(*circuit->circuit, label + ".", index, values);
}

bool ends_as(const std::string& whole, std::string_view end) {
  if (whole == end) return true;
  if (!whole.ends_with(end) || whole.size() == end.size()) return false;
  const char before = whole[whole.size() - end.size() - 1];
  return before == '.' || before == ' ';
}

/// The key that a kind's value is known by: its first one.
bool is_main_key(const std::vector<TunableValue>& values, const TunableValue& one) {
  for (const auto& other : values)
    if (other.part == one.part) return other.key == one.key;
  return false;
}

std::vector<TunableValue> named(const std::vector<TunableValue>& values, std::string_view name) {
  std::vector<TunableValue> found;
  for (const auto& one : values)
    if (ends_as(one.part + "." + one.key, name) && name.find('.') != std::string_view::npos)
      found.push_back(one);
  if (!found.empty()) return found;
  for (const auto& one : values)
    if (ends_as(one.part, name) && is_main_key(values, one)) found.push_back(one);
  return found;
}

std::string names_of(const std::vector<TunableValue>& values) {
  std::vector<std::string> names;
  for (const auto& one : values) {
    if (names.size() == 12) {
      names.push_back("others");
      break;
    }
    names.push_back("\"" + printable(one.part + "." + one.key, 60) + "\"");
  }
  return names.empty() ? "none" : listed(names);
}

Stage with_arm(Stage stage, const TunableValue& value, const Setting& setting) {
  if (auto* pad = std::get_if<Pad>(&stage)) pad->ohm.at(value.arm) = setting.value;
  if (auto* series = std::get_if<SeriesStage>(&stage)) {
    if (value.arm == 0) {
      series->ohm = setting.value;
    } else {
      const double per_henry = series->ohm / series->henry;
      series->henry = setting.value;
      series->ohm = setting.ohm.value_or(per_henry * setting.value);
    }
  }
  if (auto* transformer = std::get_if<TransformerStage>(&stage)) transformer->ratio = setting.value;
  return stage;
}

Circuit with_part(const Circuit& circuit, ValueIndex index, const Setting& setting) {
  CircuitDraft draft = circuit.draft();
  draft.parts.at(index.part) =
      with_setting(std::move(draft.parts.at(index.part)), index.value, setting);
  return Circuit(std::move(draft));
}

Stage with_tuned(const Stage& stage, const TunableValue& value, const Setting& setting) {
  if (const auto* circuit = std::get_if<CircuitStage>(&stage))
    return CircuitStage{
        std::make_shared<const Circuit>(with_part(*circuit->circuit, value.index, setting)),
        circuit->file};
  return with_arm(stage, value, setting);
}

/// The earphone with another circuit; what its file says of it stays.
Earphone with_circuit(const Earphone& earphone, const Circuit& circuit) {
  Earphone result = earphone;
  const Earphone fresh = earphone_from_circuit(circuit);
  result.impedance = fresh.impedance;
  result.circuit = fresh.circuit;
  return result;
}

}  // namespace

std::vector<TunableValue> tunable_values(const Chain& chain, const Earphone& earphone) {
  std::vector<TunableValue> values;
  for (std::size_t i = 0; i < chain.stages().size(); ++i)
    add_stage_values(chain.stages()[i], i, values);
  if (earphone.circuit) add_circuit(*earphone.circuit, "earphone.", std::nullopt, values);
  return values;
}

TunableValue tunable_value(const std::vector<TunableValue>& values, std::string_view name) {
  const auto found = named(values, name);
  if (found.size() == 1) return found[0];
  if (found.empty())
    throw InputError("\"" + printable(std::string(name), 60) + "\" is no value that may move",
                     values.empty()
                         ? "this source and this earphone have none: give a chain with a "
                           "pad or a network, or a circuit"
                         : "there are " + names_of(values));
  throw InputError("\"" + printable(std::string(name), 60) + "\" is more than one value",
                   "say which: " + names_of(found));
}

std::vector<ValueChoice> series_choices(Series series, double low, double high) {
  std::vector<ValueChoice> choices;
  for (const double value : preferred_values(series, low, high)) choices.push_back({value, {}});
  return choices;
}

std::vector<ValueChoice> stock_choices(const Stock& stock, std::string_view key, double low,
                                       double high) {
  std::vector<ValueChoice> choices;
  const auto add = [&](double value, std::optional<double> ohm) {
    if (value >= low && value <= high) choices.push_back({value, ohm});
  };
  if (key.ends_with("ohm"))
    for (const double ohm : stock.ohms) add(ohm, {});
  if (key.ends_with("henry"))
    for (const auto& coil : stock.coils) add(coil.henry, coil.ohm);
  if (key.ends_with("farad"))
    for (const double farad : stock.farads) add(farad, {});
  return choices;
}

Part with_setting(Part part, std::size_t value, const Setting& setting) {
  const double before = part.values.at(value).value;
  part.values[value].value = setting.value;
  if (part.kind != PartKind::inductor || part.values[value].key != "henry") return part;
  const double ohm = setting.ohm.value_or(part.value_or("series_ohm", 0) / before * setting.value);
  for (auto& other : part.values)
    if (other.key == "series_ohm") {
      other.value = ohm;
      return part;
    }
  if (ohm > 0) part.values.push_back({"series_ohm", ohm});
  return part;
}

TunedSubject tuned(const TunedSubject& subject, const std::vector<Move>& moves,
                   const std::vector<Setting>& settings) {
  std::vector<Stage> stages = subject.chain.stages();
  std::optional<Circuit> circuit;
  for (std::size_t i = 0; i < moves.size(); ++i)
    for (const auto& value : moves[i].values) {
      if (value.stage) {
        stages[*value.stage] = with_tuned(stages[*value.stage], value, settings[i]);
      } else {
        circuit =
            with_part(circuit ? *circuit : *subject.earphone.circuit, value.index, settings[i]);
      }
    }
  return {subject.chain.with_stages(std::move(stages)),
          circuit ? with_circuit(subject.earphone, *circuit) : subject.earphone};
}

Circuit whole_circuit(const TunedSubject& subject) {
  ChainCircuitOptions how;
  if (!subject.earphone.circuit) {
    how.earphone = subject.earphone.impedance;
    return Circuit(chain_circuit(subject.chain, how));
  }
  CircuitDraft draft = chain_circuit(subject.chain, how);
  const Circuit& circuit = *subject.earphone.circuit;
  const Port terminals = draft.ports[0];
  const Port& own = circuit.port();
  draft.parts.push_back(voltage_source(into_earphone, terminals.plus, "earphone.in", 0));
  std::map<std::string, std::string> nodes{
      {circuit.reference(), "earphone." + circuit.reference()}};
  nodes[own.plus] = "earphone.in";
  nodes[own.minus] = terminals.minus;
  append(draft, circuit, "earphone.", nodes);
  return Circuit(std::move(draft));
}

std::vector<ValueIndex> places_in(const Circuit& whole, const TunableValue& value) {
  std::vector<ValueIndex> places;
  const auto add = [&](const std::string& part, const std::string& key) {
    for (std::size_t p = 0; p < whole.parts().size(); ++p)
      if (whole.parts()[p].name == part) places.push_back(whole.value_index(part, key));
  };
  const bool coil_with_ohm = value.key == "ohm" && value.part.ends_with(".ohm");
  const auto has_key = [&](const std::string& key) {
    return std::any_of(whole.parts().begin(), whole.parts().end(),
                       [&](const Part& part) { return part.name == value.part && part.has(key); });
  };
  add(value.part, coil_with_ohm && !has_key("ohm") ? "series_ohm" : value.key);
  add(value.part + " of the return leg", value.key);
  return places;
}

}  // namespace ohmtilt
