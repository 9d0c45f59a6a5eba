#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <plots/figures/schematic.h>

#include <cmath>
#include <filesystem>

namespace ohmtilt::plots {
namespace {

using Group = SchematicGroup;
using Symbol = SchematicPart::Symbol;

/// Fractions of an ohm are written as such: nobody says milliohm of an output.
std::string ohm_text(double value) {
  return value < 1 && value >= 0.01 ? fmt::format("{:.3g} ohm", value) : engineering(value, "ohm");
}

SchematicPart ohms(double value) { return {Symbol::resistor, ohm_text(value)}; }
SchematicPart henries(double value) { return {Symbol::inductor, engineering(value, "H")}; }
SchematicPart farads(double value) { return {Symbol::capacitor, engineering(value, "F")}; }

SchematicCell in_series(SchematicPart part) {
  return {SchematicCell::Kind::parts, std::move(part), {}, {}, {}};
}
SchematicCell in_return(SchematicPart part) {
  return {SchematicCell::Kind::parts, {}, std::move(part), {}, {}};
}
SchematicCell in_both(const SchematicPart& part) {
  return {SchematicCell::Kind::parts, part, part, {}, {}};
}
SchematicCell across(SchematicPart part) {
  return {SchematicCell::Kind::parts, {}, {}, std::move(part), {}};
}

std::string pad_label(const Pad& pad) {
  const std::string name = std::string(topology_name(pad.topology));
  const std::string tolerance =
      pad.tolerance_percent > 0 ? ", " + number_text(pad.tolerance_percent) + " %" : "";
  return (pad.topology == PadTopology::series ? "series resistor" : name + " pad") + tolerance;
}

/// The arms in their order along the conductors.
Group group_of(const Pad& pad) {
  Group group{pad_label(pad), {}, {}};
  const bool both_legs = pad.topology == PadTopology::H || pad.topology == PadTopology::O ||
                         pad.topology == PadTopology::U;
  for (const auto& key : pad_keys(pad.topology)) {
    const SchematicPart part = ohms(pad.value(key));
    if (key == "bridge_ohm")
      group.bridge = part;
    else if (key == "shunt_ohm" || key == "second_shunt_ohm")
      group.cells.push_back(across(part));
    else
      group.cells.push_back(both_legs ? in_both(part) : in_series(part));
  }
  // The bridged T's values are listed with the shunt last; it stands in the middle.
  if (pad.topology == PadTopology::bridged_T) std::swap(group.cells[1], group.cells[2]);
  return group;
}

Group group_of(const SeriesStage& series) {
  Group group{"in series", {in_series(ohms(series.ohm))}, {}};
  if (series.henry > 0) group.cells.push_back(in_series(henries(series.henry)));
  return group;
}

Group group_of(const Cable& cable) {
  Group group{"cable", {in_both(ohms(cable.conductor_ohm))}, {}};
  if (cable.henry > 0) group.cells.push_back(in_series(henries(cable.henry)));
  if (cable.shared_return_ohm > 0) {
    group.cells.insert(group.cells.begin(), in_return(ohms(*cable.shared_return_ohm)));
    group.label += " (left: shared return)";
  }
  if (cable.farad > 0) group.cells.push_back(across(farads(cable.farad)));
  return group;
}

Group group_of(const TransformerStage& transformer) {
  Group group{"transformer",
              {{SchematicCell::Kind::transformer,
                {},
                {},
                {},
                fmt::format("{:.3g} : 1", transformer.ratio)}},
              {}};
  if (transformer.series_ohm > 0) group.cells.push_back(in_series(ohms(transformer.series_ohm)));
  return group;
}

Group group_of(const VolumeStage& volume) {
  const std::string label =
      fmt::format("potentiometer, {:.3g} % of its travel", volume.travel_percent);
  return {label,
          {{SchematicCell::Kind::potentiometer, {}, {}, {}, engineering(volume.total_ohm, "ohm")}},
          {}};
}

Group group_of(const CircuitStage& stage) {
  return {"circuit", {{SchematicCell::Kind::box, {}, {}, {}, stage.circuit->title()}}, {}};
}

Group group_of(const TwoPortStage& stage) {
  const std::string file = std::filesystem::path(stage.file).filename().string();
  return {"two-port", {{SchematicCell::Kind::box, {}, {}, {}, file}}, {}};
}

Group source_group(const Source& source) {
  Group group{source.balanced ? "amplifier, balanced" : "amplifier", {}, {}};
  group.cells.push_back({SchematicCell::Kind::source, {}, {}, {}, ""});
  if (source.output_curve)
    group.cells.push_back(in_series({Symbol::measured, "measured"}));
  else
    group.cells.push_back(in_series(ohms(source.output_ohm)));
  if (source.output_henry > 0) group.cells.push_back(in_series(henries(source.output_henry)));
  if (source.output_farad) group.cells.push_back(in_series(farads(*source.output_farad)));
  if (source.shared_return_ohm > 0) {
    group.cells.push_back(in_return(ohms(*source.shared_return_ohm)));
    group.label += " (right: shared return)";
  }
  return group;
}

Group ends(const std::string& label) {
  return {label, {{SchematicCell::Kind::open_ends, {}, {}, {}, ""}}, {}};
}

}  // namespace

std::string engineering(double value, const std::string& unit) {
  struct Prefix {
    double factor;
    const char* text;
  };
  constexpr Prefix prefixes[] = {{1e9, "G"},  {1e6, "M"},  {1e3, "k"},  {1, ""},
                                 {1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}, {1e-12, "p"}};
  for (const auto& prefix : prefixes)
    if (std::abs(value) >= prefix.factor * 0.9995)
      return fmt::format("{:.3g} {}{}", value / prefix.factor, prefix.text, unit);
  return fmt::format("{:.3g} {}", value, unit);
}

Schematic schematic(const Chain& chain) {
  Schematic result{chain.title(), "Symbols as in IEC 60617.", {source_group(chain.source())}};
  for (std::size_t i = 0; i < chain.stages().size(); ++i) {
    Group group = std::visit([](const auto& stage) { return group_of(stage); }, chain.stages()[i]);
    group.label = fmt::format("{}: {}", i + 1, group.label);
    result.groups.push_back(std::move(group));
  }
  result.groups.push_back({"earphone", {{SchematicCell::Kind::earphone, {}, {}, {}, "Z"}}, {}});
  return result;
}

Schematic schematic(const Pad& pad, const std::string& title) {
  return {title, "Symbols as in IEC 60617.", {ends("source"), group_of(pad), ends("earphone")}};
}

}  // namespace ohmtilt::plots
