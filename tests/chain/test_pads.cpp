// Attenuation pads against handbook formulas and published worked examples.
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/read_chain.h>

#include "tests/chain/chains.h"

namespace ohmtilt {
namespace {

using namespace test;

/// Matched at both ends: source and load of z_ohm. Loss, and resistance seen from either side.
void expect_matched(const Pad& pad, double z_ohm, double loss_db) {
  const Chain matched = chain(z_ohm, {pad});
  // The tables have six significant digits.
  EXPECT_NEAR(insertion_loss_db(matched, z_ohm), loss_db, 1e-4) << topology_name(pad.topology);
  EXPECT_NEAR(output_ohm(matched).real() / z_ohm, 1, 3e-5) << topology_name(pad.topology);
  EXPECT_NEAR(input_ohm_at_1khz(matched, z_ohm) / z_ohm, 1, 3e-5) << topology_name(pad.topology);
}

// Textbook formulas (Bird, Electrical Circuit Theory and
// Technology, 2nd ed., ch. 41), recomputed by an independent nodal solution; see the file.
TEST(Pads, OfTheTablesMatchAndLoseWhatTheyShould) {
  int rows = 0;
  for (const auto& row : csv_rows(data("pads_computed.csv"))) {
    const double z = test::number(row, "Z_ohm");
    const double db = test::number(row, "loss_dB");
    const double t = test::number(row, "T_series");
    const double pi_shunt = test::number(row, "Pi_shunt");
    const double h = test::number(row, "H_series_each");
    expect_matched(pad(PadTopology::T, {t, test::number(row, "T_shunt"), t}), z, db);
    expect_matched(pad(PadTopology::pi, {pi_shunt, test::number(row, "Pi_series"), pi_shunt}), z,
                   db);
    expect_matched(pad(PadTopology::H, {h, test::number(row, "H_shunt"), h}), z, db);
    expect_matched(
        pad(PadTopology::O, {test::number(row, "O_shunt"), test::number(row, "O_series_each"),
                             test::number(row, "O_shunt")}),
        z, db);
    expect_matched(pad(PadTopology::bridged_T, {z, z, test::number(row, "BridgedT_shunt"),
                                                test::number(row, "BridgedT_bridge")}),
                   z, db);
    // The L pad holds its input resistance into the load z, from an ideal source.
    const Chain l = chain(
        0, {pad(PadTopology::L, {test::number(row, "L_series"), test::number(row, "L_shunt")})});
    EXPECT_NEAR(gain_db(l, z), -db, 1e-4);
    EXPECT_NEAR(input_ohm_at_1khz(l, z) / z, 1, 3e-5);
    ++rows;
  }
  EXPECT_EQ(rows, 35);
}

TEST(Pads, OfPublishedExamplesLoseWhatTheBooksSay) {
  const auto t = [](double a, double b, double c) { return pad(PadTopology::T, {a, b, c}); };
  const auto pi = [](double a, double b, double c) { return pad(PadTopology::pi, {a, b, c}); };
  const auto loss = [](double source, const Pad& p, double load) {
    return insertion_loss_db(chain(source, {p}), load);
  };
  const std::map<std::string, double> computed{
      // Symmetric pads between their own characteristic resistance.
      {"B6b", loss(447.21, pi(1000, 500, 1000), 447.21)},
      {"B10b", loss(600, t(300, 450, 300), 600)},
      {"B12b", loss(353.55, pi(500, 1000, 500), 353.55)},
      {"P44a", std::pow(10, -loss(50, t(8.56, 141.8, 8.56), 50) / 20)},
      // 500 ohm to 100 ohm by an L section.
      {"B15d", loss(500, pad(PadTopology::L, {447.21, 111.80}), 100)},
      // A 3 kohm potentiometer at its two-thirds tap.
      {"B11a", insertion_loss_db(chain(500, {VolumeStage{3000, 200.0 / 3, LinearTaper{}}}), 2000)},
      // Iterative resistance: the pad's input repeats its load.
      {"B13c", input_ohm_at_1khz(chain(0, {t(200, 100, 300)}), 285.41)},
  };
  std::size_t found = 0;
  for (const auto& row : csv_rows(data("pads_published_examples.csv"))) {
    const auto ours = computed.find(row.at("id"));
    if (ours == computed.end()) continue;
    const double published = test::number(row, "published");
    // As many digits as the source prints, or the file's own residual where it rounds more.
    const double printed = published < 1 ? 5e-5 : 0.006;
    const double tolerance = std::max(printed, 1.1 * std::abs(test::number(row, "difference")));
    EXPECT_NEAR(ours->second, published, tolerance) << row.at("id");
    ++found;
  }
  EXPECT_EQ(found, computed.size());
}

TEST(Pads, OfTheDemoBringTheOutputToSixOhm) {
  const auto read = read_chain(source_dir() / "impedance-curves/attenuator-engaged.chain.toml");
  EXPECT_TRUE(read.warnings.empty());
  // By hand: 18.3 parallel 9.1 ohm = 166.53/27.4, and the divider 9.1/27.4.
  EXPECT_NEAR(output_ohm(read.value).real(), 166.53 / 27.4, 1e-12);
  EXPECT_NEAR(open_ratio(read.value).real(), 9.1 / 27.4, 1e-14);
  EXPECT_NEAR(output_ohm(read.value).real(), 6.0777, 5e-4);
  const auto bare = read_chain(source_dir() / "impedance-curves/bare-output.chain.toml");
  EXPECT_EQ(output_ohm(bare.value), Complex(0.3, 0));
}

TEST(Pads, OfZeroAndHugeArmsDisappear) {
  const double huge = 1e12;
  for (const auto& p : {pad(PadTopology::series, {0}), pad(PadTopology::L, {0, huge}),
                        pad(PadTopology::T, {0, huge, 0}), pad(PadTopology::pi, {huge, 0, huge}),
                        pad(PadTopology::H, {0, huge, 0}), pad(PadTopology::O, {huge, 0, huge}),
                        pad(PadTopology::bridged_T, {0, 0, huge, 10})}) {
    EXPECT_NEAR(output_ohm(chain(2, {p})).real(), 2, 1e-9) << topology_name(p.topology);
    EXPECT_NEAR(gain_db(chain(2, {p}), 16), gain_db(chain(2, {}), 16), 1e-9);
  }
}

TEST(Pads, AreTheSameBalancedAndSingleEnded) {
  // At the terminals of a one-port only the sum of both legs counts.
  const Chain t = chain(1, {pad(PadTopology::T, {10, 20, 6})});
  const Chain h = chain(1, {pad(PadTopology::H, {5, 20, 3})});
  Source balanced = h.source();
  balanced.balanced = true;
  const Chain legs("balanced", balanced, h.stages());
  EXPECT_NEAR(std::abs(output_ohm(t) - output_ohm(h)), 0, 1e-12);
  EXPECT_NEAR(std::abs(output_ohm(t) - output_ohm(legs)), 0, 1e-12);
  EXPECT_NEAR(std::abs(open_ratio(t) - open_ratio(legs)), 0, 1e-14);
  const Circuit circuit(chain_circuit(h));
  const auto series = [&](const std::string& name) {
    const auto index = circuit.value_index(name, "ohm");
    return circuit.parts()[index.part].value("ohm");
  };
  EXPECT_EQ(series("stage 1: pad.series"), series("stage 1: pad.series of the return leg"));
  EXPECT_EQ(series("stage 1: pad.second_series"),
            series("stage 1: pad.second_series of the return leg"));
}

TEST(Pads, KeepTheirTolerancesAndNamesInTheCircuit) {
  const Chain tolerant = chain(0.3, {Pad{PadTopology::L, {18, 9.1}, 1}, SeriesStage{2, 0}});
  const CircuitDraft draft = chain_circuit(tolerant);
  std::map<std::string, double> tolerance;
  for (const auto& part : draft.parts) tolerance[part.name] = part.tolerance_percent;
  EXPECT_EQ(tolerance, (std::map<std::string, double>{{"source.emf", 0},
                                                      {"source.output", 0},
                                                      {"stage 1: pad.series", 1},
                                                      {"stage 1: pad.shunt", 1},
                                                      {"stage 2: series.ohm", 0}}));
  EXPECT_EQ(draft.ports[0].name, "earphone");
  EXPECT_EQ(draft.ports[1].name, "amplifier");
}

}  // namespace
}  // namespace ohmtilt
