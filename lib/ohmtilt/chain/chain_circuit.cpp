#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/text/error.h>

#include <algorithm>
#include <utility>

namespace ohmtilt {
namespace {

constexpr const char* ground = "ground";

/// Walks along one channel of the chain from the amplifier to the earphone, and adds what it meets.
class Channel {
 public:
  Channel(CircuitDraft& draft, std::string prefix, bool share_cable_returns)
      : draft_(draft), prefix_(std::move(prefix)), share_cable_returns_(share_cable_returns) {}

  /// volt behind the output impedance; 0 V needs no part of its own.
  void add_source(const Source& source, double volt) {
    if (volt == 0) {
      live_ = ground;
    } else {
      live_ = new_node();
      add(voltage_source(name("source", "emf"), live_, ground, volt));
    }
    add_output(source);
    add_shared_return("source", source.shared_return_ohm);
  }

  /// No amplifier before the stages: they begin at an open pair of nodes.
  void begin_open() { live_ = new_node(); }
  /// Unplugged on its own: the return still goes through what both channels share.
  void begin_unplugged(const Source& source) {
    begin_open();
    add_shared_return("source", source.shared_return_ohm);
  }

  void add_stage(std::size_t index, const Stage& stage) {
    const std::string label = stage_label(index, stage);
    const std::size_t first = draft_.parts.size();
    std::visit([&](const auto& one) { expand(label, one); }, stage);
    const auto* pad = std::get_if<Pad>(&stage);
    for (std::size_t i = first; pad && i < draft_.parts.size(); ++i)
      draft_.parts[i].tolerance_detail = pad->tolerance_detail;
  }

  void add_earphone(const OnePort& impedance) {
    add(curve_part(prefix_ + "earphone", live_, back_, impedance));
  }

  Port port(std::string port_name) const { return {std::move(port_name), live_, back_}; }

 private:
  /// The coil first, next to the e.m.f.: behind a large impedance it would cost digits.
  void add_output(const Source& source) {
    if (!source.output_curve)
      coil_in_series("source", "output", source.output_henry, source.output_ohm);
    else if (source.output_henry > 0)
      coil_in_series("source", "henry", source.output_henry, 0);
    if (source.output_curve) {
      const std::string next = new_node();
      add(curve_part(name("source", "output"), live_, next, *source.output_curve));
      live_ = next;
    }
    if (source.output_farad) {
      const std::string next = new_node();
      add(capacitor(name("source", "farad"), live_, next, *source.output_farad));
      live_ = next;
    }
  }

  void expand(const std::string& label, const Pad& pad) {
    const bool both_legs = pad.topology == PadTopology::H || pad.topology == PadTopology::O ||
                           pad.topology == PadTopology::U;
    const auto ohm = [&](const std::string& arm) { return pad.value(arm + "_ohm"); };
    const auto series = [&](const std::string& arm) {
      if (both_legs) return in_both_legs(label, arm, ohm(arm), pad.tolerance_percent);
      in_series(label, arm, ohm(arm), pad.tolerance_percent);
    };
    const auto shunt = [&](const std::string& arm) {
      across(label, arm, ohm(arm), pad.tolerance_percent);
    };
    const std::string before = live_;
    switch (pad.topology) {
      case PadTopology::series:
        return series("series");
      case PadTopology::L:
      case PadTopology::U:
        series("series");
        return shunt("shunt");
      case PadTopology::pi:
      case PadTopology::O:
        shunt("shunt");
        series("series");
        return shunt("second_shunt");
      case PadTopology::T:
      case PadTopology::H:
      case PadTopology::bridged_T:
        series("series");
        shunt("shunt");
        series("second_series");
        if (pad.topology == PadTopology::bridged_T)
          add(resistor(name(label, "bridge"), before, live_, ohm("bridge")), pad.tolerance_percent);
    }
  }

  void expand(const std::string& label, const SeriesStage& series) {
    coil_in_series(label, "ohm", series.henry, series.ohm);
  }

  void expand(const std::string& label, const Cable& cable) {
    coil_in_series(label, "conductor", cable.henry, cable.conductor_ohm);
    if (share_cable_returns_) add_shared_return(label, cable.shared_return_ohm);
    in_return(label, "return_conductor", cable.conductor_ohm);
    if (cable.farad > 0) add(capacitor(name(label, "farad"), live_, back_, cable.farad));
  }

  void expand(const std::string& label, const TransformerStage& transformer) {
    const std::string second = new_node();
    add(four_terminal(PartKind::transformer, name(label, "windings"), {live_, back_, second, back_},
                      {{"ratio", transformer.ratio}}));
    live_ = second;
    in_series(label, "series", transformer.series_ohm);
  }

  void expand(const std::string& label, const VolumeStage& volume) {
    const double lower = volume.lower_ohm();
    in_series(label, "upper", std::max(0.0, volume.total_ohm - lower));
    across(label, "lower", lower);
  }

  void expand(const std::string& label, const CircuitStage& stage) {
    const Port& in = stage.circuit->port("in");
    const Port& out = stage.circuit->port("out");
    const std::string prefix = name(label, "");
    // Its own reference carries no current, so here it is a node like any other.
    std::map<std::string, std::string> nodes{
        {stage.circuit->reference(), prefix + stage.circuit->reference()}};
    nodes[in.plus] = live_;
    nodes[in.minus] = back_;
    append(draft_, *stage.circuit, prefix, nodes);
    const auto outer = [&](const std::string& node) {
      const auto found = nodes.find(node);
      return found == nodes.end() ? prefix + node : found->second;
    };
    live_ = outer(out.plus);
    back_ = outer(out.minus);
    back_is_common_ = back_is_common_ && out.minus == in.minus;
  }

  void expand(const std::string& label, const TwoPortStage& stage) {
    const std::string second = new_node();
    add(two_port_part(name(label, "two-port"), {live_, back_, second, back_}, *stage.two_port));
    live_ = second;
  }

  std::string name(const std::string& label, const std::string& what) const {
    return prefix_ + label + "." + what;
  }
  std::string new_node() { return prefix_ + "node " + std::to_string(++nodes_); }

  void add(Part part, double tolerance_percent = 0) {
    part.tolerance_percent = tolerance_percent;
    draft_.parts.push_back(std::move(part));
  }

  void in_series(const std::string& label, const std::string& what, double ohm,
                 double tolerance = 0) {
    const std::string next = new_node();
    add(resistor(name(label, what), live_, next, ohm), tolerance);
    live_ = next;
  }
  /// One part for both: apart, a small coil is nearly a short to the nodal equations, which costs
  /// digits.
  void coil_in_series(const std::string& label, const char* what, double henry, double ohm) {
    if (henry == 0) return in_series(label, what, ohm);
    const std::string next = new_node();
    add(inductor(name(label, what), live_, next, henry, ohm));
    live_ = next;
  }
  void in_return(const std::string& label, const std::string& what, double ohm,
                 double tolerance = 0) {
    if (ohm == 0) return;
    const std::string next = new_node();
    add(resistor(name(label, what), back_, next, ohm), tolerance);
    back_ = next;
    back_is_common_ = false;
  }
  void in_both_legs(const std::string& label, const std::string& what, double ohm,
                    double tolerance) {
    in_series(label, what, ohm, tolerance);
    in_return(label, what + " of the return leg", ohm, tolerance);
  }
  void across(const std::string& label, const std::string& what, double ohm, double tolerance = 0) {
    add(resistor(name(label, what), live_, back_, ohm), tolerance);
  }

  /// A return that both channels use; the first one that comes adds it. Returns that were separate
  /// before it are joined there, as a plug with one sleeve does, whatever its resistance.
  void add_shared_return(const std::string& label, const std::optional<double>& ohm) {
    if (!ohm) return;
    if (!back_is_common_) {
      const std::string joined = label + ", near end of the return";
      rename(back_, joined);
      back_ = joined;
      back_is_common_ = true;
    }
    if (*ohm > 0) add_common_resistance(label, *ohm);
  }

  void add_common_resistance(const std::string& label, double ohm) {
    const std::string far_end = label + ", far end of the return";
    const std::string part_name = label + ".shared_return";
    const bool there = std::any_of(draft_.parts.begin(), draft_.parts.end(),
                                   [&](const Part& part) { return part.name == part_name; });
    if (!there) draft_.parts.push_back(resistor(part_name, back_, far_end, ohm));
    back_ = far_end;
  }

  void rename(const std::string& from, const std::string& to) {
    for (auto& part : draft_.parts)
      for (auto& node : part.nodes)
        if (node == from) node = to;
    for (auto& port : draft_.ports) {
      if (port.plus == from) port.plus = to;
      if (port.minus == from) port.minus = to;
    }
  }

  CircuitDraft& draft_;
  std::string prefix_;
  bool share_cable_returns_;
  std::string live_;
  std::string back_ = ground;
  bool back_is_common_ = true;
  int nodes_ = 0;
};

CircuitDraft empty_draft(const Chain& chain) {
  CircuitDraft draft;
  draft.title = chain.title();
  draft.reference = ground;
  return draft;
}

void add_stages(Channel& channel, const Chain& chain) {
  for (std::size_t i = 0; i < chain.stages().size(); ++i) channel.add_stage(i, chain.stages()[i]);
}

}  // namespace

CircuitDraft chain_circuit(const Chain& chain, const ChainCircuitOptions& options) {
  CircuitDraft draft = empty_draft(chain);
  Channel channel(draft, "", true);
  if (options.source)
    channel.add_source(chain.source(), 1);
  else
    channel.begin_open();
  draft.ports.push_back(channel.port("amplifier"));
  add_stages(channel, chain);
  if (options.earphone) channel.add_earphone(*options.earphone);
  draft.ports.insert(draft.ports.begin(), channel.port("earphone"));
  return draft;
}

CircuitDraft stereo_circuit(const Chain& chain, const StereoCircuitOptions& options) {
  if (chain.source().balanced)
    throw InputError("a balanced output has no return that its channels share",
                     "ask for the crosstalk of a chain with balanced = false");
  if (options.wires != 3 && options.wires != 4)
    throw InputError("a cable of " + std::to_string(options.wires) + " wires is not known here",
                     "say 3 or 4");
  CircuitDraft draft = empty_draft(chain);
  const auto add_channel = [&](const std::string& channel_name, double volt, bool plugged) {
    Channel channel(draft, channel_name + " ", options.wires == 3);
    if (plugged)
      channel.add_source(chain.source(), volt);
    else
      channel.begin_unplugged(chain.source());
    add_stages(channel, chain);
    if (options.earphone) channel.add_earphone(*options.earphone);
    draft.ports.push_back(channel.port(channel_name));
  };
  add_channel("driven", 1, true);
  add_channel("idle", 0, options.idle_driven);
  return draft;
}

}  // namespace ohmtilt
