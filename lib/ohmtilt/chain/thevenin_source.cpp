#include <ohmtilt/base/decibel.h>
#include <ohmtilt/base/physical.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/measured_output.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/source_text.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/labels.h>
#include <ohmtilt/text/text.h>

#include <cmath>
#include <map>

namespace ohmtilt {
namespace {

/// Below this a logarithm of what comes through says nothing.
constexpr double least_ratio = 1e-150;

ComplexArray open_ratio(const SolvedPort& terminals, const std::string& title, const Array& hz) {
  ComplexArray ratio = terminals.open_volt(hz);
  for (Eigen::Index i = 0; i < ratio.size(); ++i)
    if (!(std::abs(ratio[i]) > least_ratio) || !std::isfinite(std::abs(ratio[i])))
      throw InputError("nothing of the amplifier's voltage comes through " + printable(title) +
                           " at " + number_text(hz[i]) + " Hz",
                       "check its stages");
  return ratio;
}

TheveninSource source_from_curve(const std::filesystem::path& file) {
  auto [output, warnings] = read_measured_output(file);
  return {one_line(output.title), output.impedance, nullptr,
          std::move(warnings),    nullptr,          file.string()};
}

TheveninSource source_from_chain(const std::filesystem::path& file) {
  const auto read = read_chain(file);
  TheveninSource source = thevenin_source(read.value);
  source.warnings.insert(source.warnings.begin(), read.warnings.begin(), read.warnings.end());
  source.file = file.string();
  return source;
}

}  // namespace

TheveninSamples TheveninSource::at(const Array& hz) const {
  return {output.at(hz), open_ratio ? open_ratio(hz) : ComplexArray()};
}

TheveninSource resistive_source(double ohm) {
  if (!std::isfinite(ohm) || ohm < 0)
    throw InputError("an output impedance of " + number_text(ohm) + " ohm is not physical",
                     "give a number of ohms, 0 or more");
  if (!magnitude_is_physical(ohm))
    throw InputError(
        "an output impedance of " + number_text(ohm) + " ohm is beyond anything physical",
        "check its unit");
  return {number_text(ohm) + " ohm", OnePort::resistance(ohm), nullptr, {}, nullptr};
}

TheveninSource thevenin_source(const Chain& chain) {
  const Circuit circuit(chain_circuit(chain));
  const SolvedPort terminals(circuit, "earphone");
  TheveninSource source{
      chain.title(), terminals.impedance(), nullptr, {}, std::make_shared<const Chain>(chain)};
  source.short_label = chain.label();
  if (!chain.stages().empty())
    source.open_ratio = [terminals, title = circuit.title()](const Array& hz) {
      return open_ratio(terminals, title, hz);
    };
  return source;
}

TheveninSource read_source(const std::string& text) {
  const SourceText source = understood_source(text);
  if (source.ohm) return resistive_source(*source.ohm);
  return source.is_toml ? source_from_chain(source.file) : source_from_curve(source.file);
}

void tell_apart(std::vector<TheveninSource>& sources) {
  std::vector<std::string> labels, files;
  for (const auto& source : sources) {
    labels.push_back(source.label);
    files.push_back(source.file);
  }
  labels = distinct_labels(labels, files);
  for (std::size_t i = 0; i < sources.size(); ++i) sources[i].label = labels[i];
  std::map<std::string, int> uses;
  for (const auto& source : sources) ++uses[source.short_name()];
  for (auto& source : sources)
    if (uses[source.short_name()] > 1) source.short_label.clear();
}

Array terminal_gain_db(const TheveninSamples& source, const ComplexArray& load_ohm) {
  ComplexArray ratio = load_ohm / (load_ohm + source.output_ohm);
  if (source.open_ratio.size() > 0) ratio *= source.open_ratio;
  return db_from_amplitude(ratio.abs());
}

ComplexArray input_ohm(const Chain& chain, const OnePort& earphone, const Array& hz) {
  ChainCircuitOptions options;
  options.source = false;
  options.earphone = earphone;
  return driving_point(Circuit(chain_circuit(chain, options)), hz, "amplifier");
}

}  // namespace ohmtilt
