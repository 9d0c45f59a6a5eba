// Random chains against a cascade of two-port chain (ABCD) matrices written here, which shares no
// code with the nodal solver.
#include <numbers>
#include <random>

#include <ohmtilt/chain/read_chain.h>

#include "tests/chain/chains.h"
#include "tests/dice.h"

namespace ohmtilt {
namespace {

using namespace test;

using test::j;

struct Cascade {
  Complex a = 1, b = 0, c = 0, d = 1;
  void then(Complex a2, Complex b2, Complex c2, Complex d2) {
    *this = {a * a2 + b * c2, a * b2 + b * d2, c * a2 + d * c2, c * b2 + d * d2};
  }
  void series(Complex z) { then(1, z, 0, 1); }
  void shunt(Complex z) { then(1, 0, 1.0 / z, 1); }
  Complex output_ohm() const { return b / a; }
  Complex open_ratio() const { return 1.0 / a; }
  Complex input_ohm(Complex load) const { return (a * load + b) / (c * load + d); }
};

void bridged_t(Cascade& cascade, const std::vector<double>& r) {
  // Delta of the T's star (series, second series, shunt), the bridge parallel to its top.
  const double sum = r[0] * r[1] + r[1] * r[2] + r[2] * r[0];
  cascade.shunt(sum / r[1]);
  cascade.series(parallel(sum / r[2], r[3]));
  cascade.shunt(sum / r[0]);
}

void apply(Cascade& m, const Pad& p) {
  const auto& r = p.ohm;
  switch (p.topology) {
    case PadTopology::series:
      return m.series(r[0]);
    case PadTopology::L:
      return m.series(r[0]), m.shunt(r[1]);
    case PadTopology::T:
      return m.series(r[0]), m.shunt(r[1]), m.series(r[2]);
    case PadTopology::pi:
      return m.shunt(r[0]), m.series(r[1]), m.shunt(r[2]);
    case PadTopology::H:
      return m.series(2 * r[0]), m.shunt(r[1]), m.series(2 * r[2]);
    case PadTopology::O:
      return m.shunt(r[0]), m.series(2 * r[1]), m.shunt(r[2]);
    case PadTopology::bridged_T:
      return bridged_t(m, r);
    case PadTopology::U:
      return m.series(2 * r[0]), m.shunt(r[1]);
  }
}

Cascade cascade_of(const Chain& chain, double hz, bool with_source = true) {
  const Complex s = j * 2.0 * std::numbers::pi * hz;
  Cascade m;
  const Source& source = chain.source();
  if (with_source) {
    m.series(source.output_ohm + s * source.output_henry + source.shared_return_ohm.value_or(0));
    if (source.output_farad) m.series(1.0 / (s * *source.output_farad));
  }
  for (const auto& stage : chain.stages()) {
    if (const auto* p = std::get_if<Pad>(&stage)) apply(m, *p);
    if (const auto* p = std::get_if<SeriesStage>(&stage)) m.series(p->ohm + s * p->henry);
    if (const auto* p = std::get_if<Cable>(&stage)) {
      m.series(2 * p->conductor_ohm + p->shared_return_ohm.value_or(0) + s * p->henry);
      m.then(1, 0, s * p->farad, 1);
    }
    if (const auto* p = std::get_if<TransformerStage>(&stage)) {
      m.then(p->ratio, 0, 0, 1 / p->ratio);
      m.series(p->series_ohm);
    }
    if (const auto* p = std::get_if<VolumeStage>(&stage)) {
      const double lower = p->total_ohm * p->travel_percent / 100;
      m.series(p->total_ohm - lower);
      m.shunt(lower);
    }
  }
  return m;
}

struct ChainDice : test::Dice {
  using Dice::Dice;

  Stage stage() {
    switch (below(5)) {
      case 0: {
        const auto topology = *topology_of_name(topology_names()[size_t(below(8))]);
        Pad p{topology, {}, double(below(3))};
        for (std::size_t i = 0; i < pad_keys(topology).size(); ++i)
          p.ohm.push_back(between(0.5, 500));
        return p;
      }
      case 1:
        return SeriesStage{between(0.1, 100), below(2) * between(1e-6, 1e-3)};
      case 2:
        return Cable{between(0.01, 1), below(2) * between(0.01, 1), below(2) * between(1e-7, 1e-5),
                     below(2) * between(1e-11, 1e-8)};
      case 3:
        return TransformerStage{between(0.2, 5), below(2) * between(0.1, 10)};
      default:
        return VolumeStage{between(10, 1e4), between(1, 100), LinearTaper{}};
    }
  }

  Chain chain() {
    Source source;
    source.output_ohm = below(3) == 0 ? 0 : between(0.01, 200);
    if (below(3) == 0) source.output_farad = between(1e-6, 1e-3);
    if (below(3) == 0) source.output_henry = between(1e-7, 1e-4);
    if (below(3) == 0) source.shared_return_ohm = between(0.001, 1);
    std::vector<Stage> stages;
    for (int i = below(7); i >= 0; --i) stages.push_back(stage());
    return {"random", source, stages};
  }
};

TEST(RandomChains, AreTheirCascadeOfTwoPorts) {
  ChainDice dice(20260211);
  Array hz(5);
  hz << 5, 20, 997, 20000, 90000;
  for (int round = 0; round < 200; ++round) {
    const Chain random = dice.chain();
    const TheveninSamples got = thevenin_source(random).at(hz);
    const ComplexArray seen = input_ohm(random, OnePort::resistance(23), hz);
    for (Eigen::Index i = 0; i < hz.size(); ++i) {
      const Cascade whole = cascade_of(random, hz[i]);
      const Complex output = whole.output_ohm();
      const Complex ratio = whole.open_ratio();
      const Complex input = cascade_of(random, hz[i], false).input_ohm(23);
      ASSERT_LE(std::abs(got.output_ohm[i] - output), 1e-10 * std::abs(output))
          << chain_text(random) << hz[i];
      // Against 1 V of e.m.f.: behind several pads less than a microvolt is left.
      ASSERT_LT(std::abs(got.open_ratio[i] - ratio), 1e-10 * std::abs(ratio) + 1e-14)
          << chain_text(random);
      ASSERT_LE(std::abs(seen[i] - input), 1e-10 * std::abs(input)) << chain_text(random);
      ASSERT_GE(got.output_ohm[i].real(), 0);  // passive
    }
  }
}

TEST(RandomChains, ReadBackTheSameFromTheirText) {
  ChainDice dice(7);
  for (int round = 0; round < 200; ++round) {
    const Chain random = dice.chain();
    const std::string text = chain_text(random);
    const auto read = parse_chain(text, "memory.chain.toml", ".");
    EXPECT_TRUE(read.warnings.empty());
    ASSERT_EQ(chain_text(read.value), text);
    ASSERT_EQ(output_ohm(read.value, 3000), output_ohm(random, 3000)) << text;
  }
}

}  // namespace
}  // namespace ohmtilt
