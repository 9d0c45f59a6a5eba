#include <ohmtilt/analysis/level/drive.h>
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/text/quantities.h>
#include <algorithm>

namespace ohmtilt {
namespace {

/// Impedances at frequencies that rise; others are asked of the whole.
struct Samples {
  std::vector<double> hz;
  ComplexArray ohm;
  OnePort whole;

  ComplexArray at(const Array& asked) const {
    ComplexArray result(asked.size());
    for (Eigen::Index i = 0; i < asked.size(); ++i) {
      const auto found = std::lower_bound(hz.begin(), hz.end(), asked[i]);
      if (found == hz.end() || *found != asked[i]) return whole.at(asked);
      result[i] = ohm[found - hz.begin()];
    }
    return result;
  }
};

}  // namespace

Earphone sampled(const Earphone& earphone, const Array& hz) {
  if (!earphone.circuit) return earphone;
  const Band& range = earphone.impedance.range();
  std::vector<double> wanted(hz.data(), hz.data() + hz.size());
  for (const double f : {1000.0, earphone.sensitivity ? earphone.sensitivity->hz : 1000.0})
    if (range.contains(f)) wanted.push_back(f);
  std::sort(wanted.begin(), wanted.end());
  wanted.erase(std::unique(wanted.begin(), wanted.end()), wanted.end());
  const Array rising =
      Eigen::Map<const Array>(wanted.data(), static_cast<Eigen::Index>(wanted.size()));
  const Samples samples{std::move(wanted), earphone.impedance.at(rising), earphone.impedance};
  Earphone result = earphone;
  result.impedance = OnePort(range, [samples](const Array& asked) { return samples.at(asked); });
  return result;
}

Earphone with_resistance(Earphone earphone, double ohm) {
  earphone.impedance = OnePort::resistance(ohm);
  earphone.circuit.reset();
  return earphone;
}

SolvedChain::SolvedChain(const Chain& of)
    : chain(of),
      terminals(thevenin_source(of)),
      amplifier(of.stages().empty() ? terminals : thevenin_source(of.with_stages({}))) {}

ChainDrive drive(const SolvedChain& of, const Earphone& earphone, const Array& hz) {
  const TheveninSamples terminals = of.terminals.at(hz);
  const ComplexArray amplifier_ohm = of.amplifier.output.at(hz);
  ChainDrive result;
  result.hz = hz;
  result.load_ohm = earphone.impedance.at(hz);
  result.output_ohm = terminals.output_ohm;
  ComplexArray ampere = 1 / (result.load_ohm + terminals.output_ohm);
  if (terminals.open_ratio.size() > 0) ampere *= terminals.open_ratio;
  result.terminal_ampere = ampere.abs();
  result.terminal_volt = (ampere * result.load_ohm).abs();
  result.input_ohm =
      of.chain.stages().empty() ? result.load_ohm : input_ohm(of.chain, earphone.impedance, hz);
  result.source_ampere = 1 / (amplifier_ohm + result.input_ohm).abs();
  return result;
}

KnownBand known_band(const SolvedChain& chain, const Earphone& earphone, const Band& asked) {
  const Band data = overlap(response_range(earphone), chain.terminals.output.range());
  KnownBand known{overlap(asked, data), {}};
  if (known.band.low_hz > asked.low_hz || known.band.high_hz < asked.high_hz)
    known.cut.push_back("the data reach from " + hz_text(known.band.low_hz) + " to " +
                        hz_text(known.band.high_hz) + "; nothing is said outside");
  return known;
}

}  // namespace ohmtilt
