// What `pad` states of a pad is what `deviation` says of the chain file that it writes: seeded
// random sources, earphones and pads.
#include <random>

#include <ohmtilt/chain/read_chain.h>

#include "tests/design/pads.h"
#include "tests/dice.h"

namespace ohmtilt::test {
namespace {

Earphone random_earphone(Dice& dice) {
  const double ohm = dice.between(4, 300), henry = dice.between(1e-6, 1e-3);
  const double peak_ohm = ohm * dice.between(0.1, 5), at = dice.between(60, 12000),
               q = dice.between(0.7, 6);
  return earphone_of(OnePort({1, 1e6}, [=](const Array& hz) -> ComplexArray {
    return ohm + j * (2 * std::numbers::pi * henry) * hz.cast<Complex>() +
           peak_ohm / (1.0 + j * q * (hz / at - at / hz).cast<Complex>());
  }));
}

Chain random_chain(Dice& dice) {
  Source source;
  source.output_ohm = dice.below(3) == 0 ? 0 : dice.between(0.05, 120);
  if (dice.below(3) == 0) source.output_farad = dice.between(1e-5, 1e-3);
  if (dice.below(3) == 0) source.output_henry = dice.between(1e-7, 1e-4);
  std::vector<Stage> stages;
  if (dice.below(2) == 0)
    stages.emplace_back(Cable{dice.between(0.01, 1), dice.below(2) * dice.between(0.01, 1),
                              dice.below(2) * dice.between(1e-7, 1e-5), 0});
  return {"random", source, stages};
}

Pad random_pad(Dice& dice) {
  const auto names = topology_names();
  const auto topology = *topology_of_name(
      names[static_cast<std::size_t>(dice.below(static_cast<int>(names.size())))]);
  Pad pad{topology, {}, 1};
  for (std::size_t i = 0; i < pad_keys(topology).size(); ++i)
    pad.ohm.push_back(dice.between(0.5, 200));
  return pad;
}

TEST(PadProperty, TheChainWrittenIsWhatIsStated) {
  Dice dice(1);
  PadSearchOptions how;
  how.draws.samples = 10;
  for (int run = 0; run < 200; ++run) {
    const Earphone earphone = random_earphone(dice);
    const Chain bare = random_chain(dice);
    const Pad pad = random_pad(dice);
    PadSiteOptions where;
    where.points = 64 + dice.below(20);
    const bool of_another = run % 2 == 1;  // the span from another source than the bare one
    const Chain reference = of_another ? random_chain(dice) : bare;
    if (of_another) where.from = thevenin_source(reference);
    const PadSite site(earphone, thevenin_source(bare), where);
    const PadCandidate stated = evaluate_pads(site, {pad}, how).candidates.at(0);

    std::vector<Stage> stages = bare.stages();
    stages.emplace_back(stated.pad);
    const Chain written =
        parse_chain(chain_text(bare.with_stages(stages)), "padded.chain.toml", ".").value;
    ComparisonOptions compare;
    compare.points = where.points;
    const auto found =
        compare_sources(earphone, thevenin_source(reference), {thevenin_source(written)}, compare)
            .cases.at(0);
    EXPECT_NEAR(found.deviation.span_db, stated.span_db, 1e-9) << run;
    if (!of_another) {
      EXPECT_NEAR(-found.deviation.level_change_db, stated.attenuation_db, 1e-9) << run;
    }
    EXPECT_NEAR(found.output_ohm / stated.output_ohm, 1, 1e-9) << run;
    EXPECT_NEAR(input_ohm(written, earphone.impedance, site.grid_hz()).abs().minCoeff() /
                    stated.input_min_ohm,
                1, 1e-9)
        << run;
  }
}

}  // namespace
}  // namespace ohmtilt::test
