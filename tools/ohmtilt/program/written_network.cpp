#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/sampled_two_port.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/written_network.h>
#include <algorithm>
#include <filesystem>

namespace ohmtilt::cli {
namespace {

std::string ending(const std::string& file) {
  return lower(std::filesystem::path(file).extension().string());
}

bool shares_return(const Stage& stage) {
  const auto* cable = std::get_if<Cable>(&stage);
  return cable && cable->shared_return_ohm;
}

}  // namespace

bool is_two_port_name(const std::string& file) { return ending(file) == ".s2p"; }
bool is_one_port_name(const std::string& file) { return ending(file) == ".s1p"; }
bool is_curve_name(const std::string& file) {
  return is_one_port_name(file) || ending(file) == ".csv";
}

std::string moved_file(const std::string& file, const std::filesystem::path& from,
                       const std::filesystem::path& to) {
  if (file.empty() || std::filesystem::path(file).is_absolute()) return file;
  const auto absolute = std::filesystem::absolute(from / file).lexically_normal();
  return absolute.lexically_relative(std::filesystem::absolute(to / ".").lexically_normal())
      .string();
}

Chain moved_chain(const Chain& chain, const std::filesystem::path& place) {
  const auto from = std::filesystem::path(chain.file()).parent_path();
  const auto to = place.parent_path();
  Source source = chain.source();
  source.output_curve_file = moved_file(source.output_curve_file, from, to);
  if (source.volume)
    if (auto* table = std::get_if<VolumeTable>(&*source.volume))
      table->file = moved_file(table->file, from, to);
  std::vector<Stage> stages = chain.stages();
  for (auto& stage : stages) {
    if (auto* circuit = std::get_if<CircuitStage>(&stage))
      circuit->file = moved_file(circuit->file, from, to);
    if (auto* two_port = std::get_if<TwoPortStage>(&stage))
      two_port->file = moved_file(two_port->file, from, to);
  }
  return Chain(chain.title(), source, stages).with_label(chain.label());
}

std::string written_curve(const ImpedanceCurve& curve, const std::string& file) {
  return is_one_port_name(file) ? touchstone_text(curve) : curve_text(curve);
}

Circuit stages_between(const Chain& chain) {
  if (chain.stages().empty())
    throw InputError(printable(chain.title()) + " has no stages, so there is no two-port in it",
                     "name a chain with a [[stage]]");
  ChainCircuitOptions without_source;
  without_source.source = false;
  return Circuit(chain_circuit(chain, without_source));
}

std::vector<std::string> lost_in_two_port(const Chain& chain) {
  const auto& stages = chain.stages();
  if (std::none_of(stages.begin(), stages.end(), shares_return)) return {};
  return {
      "the two-port has one return, so the crosstalk of the cable's shared return is not in it"};
}

std::string pad_two_port_text(const Pad& pad, const std::string& title, const Band& band,
                              Eigen::Index points) {
  const Circuit circuit = stages_between(Chain(title, Source{}, {pad}));
  return two_port_text(sampled_two_port(circuit, "amplifier", "earphone", band, points));
}

}  // namespace ohmtilt::cli
