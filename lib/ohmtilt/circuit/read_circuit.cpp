#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/tolerance_detail.h>
#include <ohmtilt/curve/measured_one_port.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>

#include <map>
#include <set>
#include <utility>

namespace ohmtilt {
namespace {

/// Nodes that one part alone names and no port: most often a name that was mistyped.
std::vector<std::string> loose_ends(const Circuit& circuit) {
  std::map<std::string, std::set<const Part*>> parts_at;
  for (const auto& part : circuit.parts())
    for (const auto& node : part.nodes) parts_at[node].insert(&part);
  parts_at.erase(circuit.reference());
  for (const auto& port : circuit.ports()) {
    parts_at.erase(port.plus);
    parts_at.erase(port.minus);
  }
  std::vector<std::string> warnings;
  for (const auto& [node, parts] : parts_at) {
    if (parts.size() > 1) continue;
    const Part& part = **parts.begin();
    warnings.push_back(to_string(circuit.place(part)) + ": node \"" + printable(node, 60) +
                       "\" has one part alone, \"" + printable(part.name, 60) +
                       "\", and leads nowhere: connect it, or correct the node's name");
  }
  return warnings;
}

class CircuitReader {
 public:
  CircuitReader(TomlTable file, std::filesystem::path folder)
      : file_(std::move(file)), folder_(std::move(folder)) {}

  Read<Circuit> read() {
    file_.refuse_unknown_keys({"title", "reference", "ports", "part"});
    CircuitDraft draft;
    draft.file = file_.file();
    draft.title = file_.text_or("title", "");
    draft.reference = file_.require_text("reference");
    draft.ports = ports();
    for (const auto& table : file_.tables("part", 5000)) draft.parts.push_back(part(table));
    Circuit circuit(std::move(draft));
    append_new(warnings_, loose_ends(circuit));
    return {std::move(circuit), std::move(warnings_)};
  }

 private:
  std::vector<Port> ports() const {
    const auto table = file_.table("ports");
    if (!table) file_.refuse("ports", "is missing", "add [ports] with name = [node, node]");
    std::vector<Port> result;
    for (const auto& name : table->keys()) {
      const auto nodes = table->texts(name);
      if (nodes.size() != 2)
        table->refuse(name, "names " + std::to_string(nodes.size()) + " nodes", "name two nodes");
      result.push_back({name, nodes[0], nodes[1]});
    }
    return result;
  }

  static PartKind kind_of(const TomlTable& table) {
    const std::string name = table.require_text("kind");
    if (const auto kind = kind_of_name(name)) return *kind;
    const auto nearest = nearest_word(name, kind_names());
    table.refuse(
        "kind", "is unknown: \"" + printable(name, 60) + "\"",
        nearest ? "did you mean \"" + *nearest + "\"?" : "kinds are " + listed(kind_names()));
  }

  static std::vector<std::string> keys_of(PartKind kind) {
    const KindRule& rule = rule_of(kind);
    std::vector<std::string> keys{"name", "kind", "nodes"};
    if (rule.nodes == 2) {
      keys.emplace_back("tolerance_percent");
      for (auto& key : tolerance_detail_keys(true)) keys.push_back(std::move(key));
    }
    for (const auto& value : rule.values) keys.emplace_back(value.key);
    if (!rule.resonance.empty()) keys.emplace_back("resonance");
    if (rule.control) keys.emplace_back("control");
    if (rule.file) keys.emplace_back("file");
    return keys;
  }

  static void add_values(const TomlTable& table, const std::vector<ValueRule>& rules,
                         const std::string& prefix, Part& part) {
    for (const auto& rule : rules) {
      if (!rule.required && !table.has(rule.key)) continue;
      const double value =
          rule.resistance ? table.require_resistance(rule.key) : table.require_number(rule.key);
      part.values.push_back({prefix + std::string(rule.key), value});
    }
  }

  static void add_resonances(const TomlTable& table, const KindRule& rule, Part& part) {
    std::size_t number = 0;
    std::vector<std::string> keys;
    for (const auto& value : rule.resonance) keys.emplace_back(value.key);
    for (const auto& resonance : table.tables("resonance", 50)) {
      const auto named = resonance.named(table.name() + " " + resonance.name());
      named.refuse_unknown_keys(keys);
      add_values(named, rule.resonance, resonance_key(++number, ""), part);
    }
  }

  Part part(const TomlTable& nameless) {
    Part part;
    part.name = nameless.require_text("name");
    const TomlTable table = nameless.named("part \"" + printable(part.name, 60) + "\"");
    part.kind = kind_of(table);
    part.line = table.place("name").line;
    const KindRule& rule = rule_of(part.kind);
    table.refuse_unknown_keys(keys_of(part.kind));
    if (!table.has("nodes")) table.refuse("nodes", "is missing", "name the nodes in brackets");
    part.nodes = table.texts("nodes", 100);
    add_values(table, rule.values, "", part);
    if (!rule.resonance.empty()) add_resonances(table, rule, part);
    if (rule.control) part.control = table.require_text("control");
    part.tolerance_percent = table.number_or("tolerance_percent", 0);
    part.tolerance_detail = read_tolerance_detail(table, part.tolerance_percent);
    if (part.tolerance_detail) refuse_unknown_figures(table, part);
    if (part.kind == PartKind::curve) add_curve(table, part);
    if (part.kind == PartKind::two_port) add_two_port(table, part);
    place_faults(table, part);
    return part;
  }

  static void refuse_unknown_figures(const TomlTable& table, const Part& part) {
    for (const auto& [key, percent] : part.tolerance_detail->figure_percent)
      if (!part.has(key))
        table.refuse("figure_tolerance_percent",
                     "names \"" + printable(key, 60) + "\", which the part does not have",
                     "name one of its own keys; of a resonance \"resonance.1.hz\"");
  }

  // Circuit checks the same again; here each fault has its own line and column.
  static void place_faults(const TomlTable& table, const Part& part) {
    const auto faults = part_faults(part);
    if (faults.empty()) return;
    const std::string key = faults[0].key;
    if (!key.starts_with("resonance.")) table.refuse(key, faults[0].wrong, faults[0].remedy);
    const auto dot = key.find('.', 10);
    const auto number = std::stoul(key.substr(10, dot - 10));
    table.tables("resonance", 50)
        .at(number - 1)
        .named(table.name() + " resonance " + std::to_string(number))
        .refuse(key.substr(dot + 1), faults[0].wrong, faults[0].remedy);
  }

  void add_curve(const TomlTable& table, Part& part) {
    part.curve_file = table.require_file_name("file");
    const auto read = read_impedance(included_file(table, "file", folder_));
    auto measured =
        measured_one_port(read.value, "the curve of part \"" + printable(part.name, 60) + "\"");
    append_new(warnings_, read.warnings);
    append_new(warnings_, measured.warnings);
    part.curve = std::move(measured.value);
  }

  void add_two_port(const TomlTable& table, Part& part) {
    part.curve_file = table.require_file_name("file");
    const auto read = read_two_port(included_file(table, "file", folder_));
    append_new(warnings_, read.warnings);
    part.two_port = two_port(read.value);
  }

  TomlTable file_;
  std::filesystem::path folder_;
  std::vector<std::string> warnings_;
};

std::string text_array(const std::vector<std::string>& texts) {
  std::string result = "[";
  for (const auto& text : texts) result += (result.size() > 1 ? ", " : "") + toml_quoted(text);
  return result + "]";
}

std::string value_lines(const Part& part) {
  std::string text;
  for (const auto& value : part.values)
    if (!value.key.starts_with("resonance."))
      text += value.key + " = " + toml_number(value.value) + "\n";
  return text;
}

std::string resonance_lines(const Part& part) {
  std::string text;
  for (std::size_t r = 1; r <= resonance_count(part); ++r) {
    text += "[[part.resonance]]\n";
    const std::string prefix = resonance_key(r, "");
    for (const auto& value : part.values)
      if (value.key.starts_with(prefix))
        text += value.key.substr(prefix.size()) + " = " + toml_number(value.value) + "\n";
  }
  return text;
}

std::string part_text(const Part& part) {
  const bool of_file = part.curve || part.two_port;
  if (of_file && part.curve_file.empty())
    throw InputError("part \"" + printable(part.name) + "\" holds a curve that is in no file",
                     "write the curve to a file and name it");
  std::string text = "\n[[part]]\nname = " + toml_quoted(part.name) + "\nkind = \"" +
                     std::string(kind_name(part.kind)) + "\"\nnodes = " + text_array(part.nodes) +
                     "\n" + value_lines(part);
  if (!part.control.empty()) text += "control = " + toml_quoted(part.control) + "\n";
  if (of_file) text += "file = " + toml_quoted(part.curve_file) + "\n";
  if (part.tolerance_percent > 0)
    text += "tolerance_percent = " + toml_number(part.tolerance_percent) + "\n";
  text += tolerance_detail_lines(part.tolerance_detail);
  return text + resonance_lines(part);
}

}  // namespace

Read<Circuit> read_circuit(const std::filesystem::path& file) {
  return read_circuit(read_toml(file));
}

Read<Circuit> read_circuit(const TomlTable& file) {
  return CircuitReader(file, std::filesystem::path(file.file()).parent_path()).read();
}

Read<Circuit> parse_circuit(std::string_view toml, const std::string& name,
                            const std::filesystem::path& folder) {
  return CircuitReader(parse_toml(toml, name), folder).read();
}

std::string circuit_text(const Circuit& circuit) {
  std::string text = "title = " + toml_quoted(circuit.title()) +
                     "\nreference = " + toml_quoted(circuit.reference()) + "\n\n[ports]\n";
  for (const auto& port : circuit.ports())
    text += toml_quoted(port.name) + " = " + text_array({port.plus, port.minus}) + "\n";
  for (const auto& part : circuit.parts()) text += part_text(part);
  return text;
}

}  // namespace ohmtilt
