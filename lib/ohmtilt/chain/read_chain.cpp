#include <ohmtilt/chain/chain_keys.h>
#include <ohmtilt/chain/measured_output.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/read_volume.h>
#include <ohmtilt/chain/source_text.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/tolerance_detail.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

/// What reading one file carries along.
struct Reading {
  std::filesystem::path folder;
  std::vector<std::string> warnings;

  template <class Value>
  Value take(Read<Value> read) {
    warnings.insert(warnings.end(), read.warnings.begin(), read.warnings.end());
    return std::move(read.value);
  }
};

template <class Checked>
void refuse_faults(const TomlTable& table, const Checked& checked) {
  if (const auto fault = fault_of(checked)) table.refuse(fault->key, fault->wrong, fault->remedy);
}

std::vector<std::string> with(std::vector<std::string> keys, const std::vector<std::string>& more) {
  keys.insert(keys.end(), more.begin(), more.end());
  return keys;
}

// ---- keys of the table in chain_keys.h ---------------------------------------------------------

template <HasChainKeys Of>
std::vector<std::string> keys_of() {
  std::vector<std::string> keys;
  for (const auto& key : chain_keys<Of>) keys.emplace_back(key.key);
  return keys;
}

NoiseWeighting noise_weighting(const TomlTable& table, const char* key) {
  const std::string name = table.text_or(key, "A");
  if (name == "A") return NoiseWeighting::a;
  if (name == "flat") return NoiseWeighting::flat;
  table.refuse(key, "is \"" + printable(name, 40) + "\"",
               "write \"A\", or \"flat\" for 20 Hz to 20 kHz");
}

template <HasChainKeys Of>
void read_keys(const TomlTable& table, Of& of) {
  each_chain_key(of, [&](const ChainKey<Of>& key, auto& value) {
    using Value = std::decay_t<decltype(value)>;
    if (*key.beside && table.has(key.key) && !table.has(key.beside))
      table.refuse(key.beside, "is missing", std::string("add it, or leave out ") + key.key);
    if constexpr (std::is_same_v<Value, bool>)
      value = table.flag_or(key.key, false);
    else if constexpr (std::is_same_v<Value, NoiseWeighting>)
      value = noise_weighting(table, key.key);
    else if constexpr (std::is_same_v<Value, std::vector<double>>)
      value = table.numbers(key.key);
    else if (key.required || table.has(key.key))
      value = key.resistance ? table.require_resistance(key.key) : table.require_number(key.key);
  });
}

template <HasChainKeys Of>
Of read_stage_of(const TomlTable& table) {
  table.refuse_unknown_keys(with({"kind"}, keys_of<Of>()));
  Of stage;
  read_keys(table, stage);
  return stage;
}

// ---- [source] ----------------------------------------------------------------------------------

PowerPoint power_point(const TomlTable& table) {
  table.refuse_unknown_keys(
      {"load_ohm", "watt", "duration_ms", "distortion_percent", "balanced", "supply"});
  PowerPoint point;
  point.load_ohm = table.require_resistance("load_ohm");
  point.watt = table.require_number("watt");
  if (!table.is_text("duration_ms"))
    point.duration_ms = table.number("duration_ms");
  else if (table.require_text("duration_ms") != "continuous")
    table.refuse("duration_ms", "is no duration", "write milliseconds, or \"continuous\"");
  else
    point.duration_ms = continuous_ms;
  point.distortion_percent = table.number("distortion_percent");
  if (table.has("balanced")) point.balanced = table.flag_or("balanced", false);
  point.supply = table.text_or("supply", "");
  refuse_faults(table, point);
  return point;
}

void read_output(const TomlTable& table, Reading& reading, Source& source) {
  const bool any = table.has("output_ohm") || table.has("output_curve") ||
                   table.has("output_farad") || table.has("output_henry");
  if (!any) table.refuse("output_ohm", "is missing", "add it, or name an `output_curve`");
  if (table.has("output_ohm") && table.has("output_curve"))
    table.refuse("output_curve", "stands beside `output_ohm`", "give one of them");
  source.output_ohm = table.resistance_or("output_ohm", 0);
  if (table.has("output_curve")) {
    source.output_curve_file = table.require_file_name("output_curve");
    source.output_curve =
        reading.take(read_measured_output(included_file(table, "output_curve", reading.folder)))
            .impedance;
  }
}

Source read_source_table(const TomlTable& table, Reading& reading) {
  table.refuse_unknown_keys(
      with({"output_ohm", "output_curve"}, with(keys_of<Source>(), {"volume", "power"})));
  Source source;
  read_output(table, reading, source);
  read_keys(table, source);
  if (const auto volume = table.table("volume")) {
    const TomlTable named = volume->named("source.volume");
    source.volume = reading.take(read_volume_law(named, reading.folder));
    refuse_faults(named, *source.volume);
  }
  for (const auto& power : table.tables("power"))
    source.power.push_back(power_point(power.named("source." + power.name())));
  refuse_faults(table, source);
  return source;
}

// ---- [[stage]] ---------------------------------------------------------------------------------

Pad read_pad(const TomlTable& table) {
  const std::string name = table.require_text("topology");
  const auto topology = topology_of_name(name);
  if (!topology)
    table.refuse("topology", "is \"" + printable(name, 40) + "\", which is not known",
                 "known are " + listed(topology_names()));
  Pad pad{*topology, {}, 0};
  table.refuse_unknown_keys(with({"kind", "topology", "tolerance_percent"},
                                 with(pad_keys(*topology), tolerance_detail_keys(false))));
  for (const auto& key : pad_keys(*topology)) pad.ohm.push_back(table.require_resistance(key));
  pad.tolerance_percent = table.number_or("tolerance_percent", 0);
  pad.tolerance_detail = read_tolerance_detail(table, pad.tolerance_percent);
  return pad;
}

VolumeStage read_volume_stage(const TomlTable& table) {
  table.refuse_unknown_keys({"kind", "total_ohm", "travel_percent", "law"});
  VolumeStage volume;
  volume.total_ohm = table.require_resistance("total_ohm");
  volume.travel_percent = table.require_number("travel_percent");
  const std::string law = table.require_text("law");
  if (law == "linear-taper")
    volume.law = LinearTaper{};
  else if (law != "audio-taper")
    table.refuse("law", "is \"" + printable(law, 40) + "\", which no potentiometer follows here",
                 "write \"audio-taper\" or \"linear-taper\"");
  return volume;
}

CircuitStage read_circuit_stage(const TomlTable& table, Reading& reading) {
  table.refuse_unknown_keys({"kind", "file"});
  const auto circuit = circuit_table(included_file(table, "file", reading.folder));
  if (!circuit)
    table.refuse("file", "names no circuit", "name a circuit file with ports `in` and `out`");
  return {std::make_shared<const Circuit>(reading.take(read_circuit(*circuit))),
          table.require_file_name("file")};
}

TwoPortStage read_two_port_stage(const TomlTable& table, Reading& reading) {
  table.refuse_unknown_keys({"kind", "file", "source_port"});
  const auto file = included_file(table, "file", reading.folder);
  const double port = table.number_or("source_port", 1);
  if (port != 1 && port != 2)
    table.refuse("source_port", "is " + number_text(port),
                 "say which port of the file is towards the source, 1 or 2");
  const TwoPort of = two_port(reading.take(read_two_port(file)));
  return {std::make_shared<const TwoPort>(port == 1 ? of : of.reversed()),
          table.require_file_name("file"), port == 2};
}

Stage stage_of_kind(const TomlTable& table, const std::string& kind, Reading& reading) {
  if (kind == "pad") return read_pad(table);
  if (kind == "series") return read_stage_of<SeriesStage>(table);
  if (kind == "cable") return read_stage_of<Cable>(table);
  if (kind == "transformer") return read_stage_of<TransformerStage>(table);
  if (kind == "volume") return read_volume_stage(table);
  if (kind == "circuit") return read_circuit_stage(table, reading);
  if (kind == "two-port") return read_two_port_stage(table, reading);
  const auto nearest = nearest_word(kind, stage_kind_names());
  table.refuse(
      "kind", "is \"" + printable(kind, 40) + "\", which is not known",
      nearest ? "did you mean \"" + *nearest + "\"?" : "known are " + listed(stage_kind_names()));
}

Stage read_stage(const TomlTable& table, Reading& reading) {
  const std::string kind = table.require_text("kind");
  const TomlTable named = table.named(table.name() + ": " + printable(kind, 40));
  Stage stage = stage_of_kind(named, kind, reading);
  refuse_faults(named, stage);
  return stage;
}

Read<Chain> chain_of(const TomlTable& top, const std::filesystem::path& folder) {
  if (content_of(top) == TomlContent::circuit)
    throw InputError(Place{top.file()}, "this is a circuit, not a chain",
                     "name a chain file, with a [source]");
  if (content_of(top) == TomlContent::earphone)
    throw InputError(Place{top.file()}, "this is an earphone, not a chain",
                     "name a chain file, with a [source]");
  top.refuse_unknown_keys({"title", "label", "source", "stage"});
  const auto source_table = top.table("source");
  if (!source_table) top.refuse("source", "is missing", "add [source] with its output_ohm");
  Reading reading{folder, {}};
  const std::string stem = std::filesystem::path(top.file()).stem().stem().string();
  std::string title = one_line(top.text_or("title", stem));
  Source source = read_source_table(*source_table, reading);
  std::vector<Stage> stages;
  for (const auto& table : top.tables("stage", stage_limit))
    stages.push_back(read_stage(table, reading));
  return {Chain(std::move(title), std::move(source), std::move(stages), top.file())
              .with_label(top.text_or("label", "")),
          std::move(reading.warnings)};
}

}  // namespace

Read<Chain> read_chain(const std::filesystem::path& file) { return read_chain(read_toml(file)); }

Read<Chain> read_chain(const TomlTable& file) {
  return chain_of(file, std::filesystem::path(file.file()).parent_path());
}

Read<Chain> parse_chain(std::string_view toml, const std::string& name,
                        const std::filesystem::path& folder) {
  return chain_of(parse_toml(toml, name), folder);
}

Read<Chain> read_any_chain(const std::string& text) {
  const SourceText understood = understood_source(text);
  if (understood.is_toml) return read_chain(understood.file);
  const TheveninSource plain = read_source(text);
  Source source;
  if (understood.ohm) {
    source.output_ohm = *understood.ohm;
  } else {
    source.output_curve = plain.output;
    source.output_curve_file = understood.file.string();
  }
  return {Chain(plain.label, std::move(source), {}), plain.warnings};
}

}  // namespace ohmtilt
