// ohmtilt pad --steps: a switch that takes the earphone to a tap of one ladder of resistors.
#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/pad_switch.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>

namespace ohmtilt::cli {
namespace {

using Step = SwitchedAttenuator::Step;

/// The step where value is the largest.
template <class Value>
const Step& most(const SwitchedAttenuator& ladder, const Value& value) {
  return *std::max_element(ladder.steps.begin(), ladder.steps.end(),
                           [&](const Step& a, const Step& b) { return value(a) < value(b); });
}

const Step& widest(const SwitchedAttenuator& ladder) {
  return most(ladder, [](const Step& step) { return step.span_db; });
}
const Step& heaviest(const SwitchedAttenuator& ladder) {
  return most(ladder, [](const Step& step) { return -step.input_min_ohm; });
}

std::string step_text(const Step& step) { return number_text(step.asked_db) + " dB"; }

std::string ladder_sentence(const SwitchedAttenuator& ladder) {
  const Step& span = widest(ladder);
  const Step& output = most(ladder, [](const Step& step) { return step.output_ohm; });
  return fmt::format(
      "A switch of {} steps from {} to {}: the span of the deviation is at most {} (step of {}), "
      "{}; the output impedance at most {} (step of {}); the amplifier's load at least {}.\n",
      ladder.steps.size(), step_text(ladder.steps.front()), step_text(ladder.steps.back()),
      significant_up(span.span_db, 3) + " dB", step_text(span), span_step(span.span_db).weight,
      significant_up(output.output_ohm, 3) + " ohm", step_text(output),
      significant_down(heaviest(ladder).input_min_ohm, 3) + " ohm");
}

std::string ladder_table(const SwitchedAttenuator& ladder) {
  std::vector<std::vector<std::string>> rows{{"step, dB", "loss, dB", "output, ohm", "span, dB",
                                              "input, ohm", "loss 95 %", "channels 95 %"}};
  for (const auto& step : ladder.steps)
    rows.push_back({number_text(step.asked_db), fmt::format("{:.2f}", step.attenuation_db),
                    significant(step.output_ohm), fmt::format("{:.2f}", step.span_db),
                    significant(step.input_min_ohm),
                    fmt::format("±{:.2f}", step.spread.attenuation_p95_db),
                    fmt::format("{:.2f}", step.spread.channel_difference_p95_db)});
  return aligned(rows);
}

}  // namespace

Json ladder_json(const SwitchedAttenuator& ladder) {
  Json steps = Json::array();
  for (const auto& step : ladder.steps)
    steps.push_back({{"asked_db", step.asked_db},
                     {"attenuation_db", step.attenuation_db},
                     {"attenuation_error_db", step.attenuation_db - step.asked_db},
                     {"output_ohm", step.output_ohm},
                     {"span_db", step.span_db},
                     {"input_min_ohm", step.input_min_ohm},
                     {"attenuation_p95_db", step.spread.attenuation_p95_db},
                     {"channel_difference_p95_db", step.spread.channel_difference_p95_db},
                     {"series_ohm", step.pad.ohm[0]},
                     {"shunt_ohm", step.pad.ohm[1]},
                     {"largest_ampere", step.largest_ampere},
                     {"noise_volt_a_weighted", step.noise_volt_a_weighted},
                     {"dissipation_milliwatt", step.dissipation_milliwatt}});
  return {{"ohm", ladder.ohm}, {"steps", steps}};
}

std::string ladder_text(const PadReport& report) {
  const SwitchedAttenuator& ladder = *report.ladder;
  std::string row;
  for (const double ohm : ladder.ohm) row += (row.empty() ? "" : ", ") + number_text(ohm);
  return ladder_sentence(ladder) + exceeded_text(report) +
         fmt::format(
             "\nResistor ladder from the amplifier's output to ground: {} ohm, {} in all.\n"
             "The switch connects the earphone to one of its taps.\n",
             row, ohm_text(ladder.total_ohm())) +
         ladder_table(ladder);
}

CsvTable ladder_csv(const SwitchedAttenuator& ladder) {
  CsvTable table;
  const auto add = [&](const std::string& name, const auto& value) {
    Array values(static_cast<Eigen::Index>(ladder.steps.size()));
    for (std::size_t i = 0; i < ladder.steps.size(); ++i) values[i] = value(ladder.steps[i]);
    table.add(name, values);
  };
  add("asked_db", [](const auto& s) { return s.asked_db; });
  add("attenuation_db", [](const auto& s) { return s.attenuation_db; });
  add("output_ohm", [](const auto& s) { return s.output_ohm; });
  add("span_db", [](const auto& s) { return s.span_db; });
  add("input_min_ohm", [](const auto& s) { return s.input_min_ohm; });
  add("attenuation_p95_db", [](const auto& s) { return s.spread.attenuation_p95_db; });
  add("channel_difference_p95_db",
      [](const auto& s) { return s.spread.channel_difference_p95_db; });
  add("largest_ampere", [](const auto& s) { return s.largest_ampere; });
  add("series_ohm", [](const auto& s) { return s.pad.ohm[0]; });
  add("shunt_ohm", [](const auto& s) { return s.pad.ohm[1]; });
  return table;
}

std::vector<std::string> ladder_warnings(const PadReport& report, const PadSite& site) {
  const SwitchedAttenuator& ladder = *report.ladder;
  std::vector<std::string> warnings;
  const Step& heavy = heaviest(ladder);
  if (heavy.input_min_ohm < site.load_min_ohm())
    warnings.push_back(fmt::format(
        "the step of {} loads the amplifier with {}, the earphone alone with {}: a ladder of more "
        "ohms "
        "(--ladder-ohm) loads it less and bends the response more",
        step_text(heavy), ohm_text(heavy.input_min_ohm), ohm_text(site.load_min_ohm())));
  const Step& thirsty = most(ladder, [](const Step& step) { return step.largest_ampere; });
  if (report.max_ampere && thirsty.largest_ampere > *report.max_ampere)
    warnings.push_back(
        fmt::format("at {} V the amplifier would give {} mA at the step of {}, more than its {} mA",
                    number_text(site.open_volt()), significant(1000 * thirsty.largest_ampere),
                    step_text(thirsty), significant(1000 * *report.max_ampere)));
  return warnings;
}

plots::AttenuatorFigure attenuator_figure(const PadReport& report, const PadSite& site) {
  const auto& steps = report.ladder->steps;
  plots::AttenuatorFigure figure;
  figure.earphone_title = report.earphone_title;
  const auto count = static_cast<Eigen::Index>(steps.size());
  figure.attenuation_db.resize(count);
  figure.output_ohm.resize(count);
  figure.span_db.resize(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto& step = steps[static_cast<std::size_t>(i)];
    figure.attenuation_db[i] = step.attenuation_db;
    figure.output_ohm[i] = step.output_ohm;
    figure.span_db[i] = step.span_db;
  }
  figure.conclusion =
      fmt::format("A switch of {} steps: output up to {}, span up to {}", count,
                  ohm_text(figure.output_ohm.maxCoeff()), db_text(figure.span_db.maxCoeff()));
  figure.caption = fmt::format("Behind {}; attenuation {}; resistors of {} %", report.source_label,
                               anchored_text(report, site), number_text(report.tolerance_percent));
  return figure;
}

plots::Schematic ladder_schematic(const SwitchedAttenuator& ladder) {
  using Cell = plots::SchematicCell;
  const auto resistor = [](double ohm) {
    return plots::SchematicPart{plots::SchematicPart::Symbol::resistor,
                                plots::engineering(ohm, "ohm")};
  };
  const auto tap = [](const Step& step) {
    return Cell{Cell::Kind::tap, {}, {}, {}, step_text(step)};
  };
  plots::Schematic drawing{"Switch: the earphone at one of the taps",
                           "Symbols as in IEC 60617.",
                           {{"source", {{Cell::Kind::open_ends, {}, {}, {}, ""}}, {}}}};
  const std::size_t above = ladder.ohm.size() - ladder.steps.size();  // resistors before the first
  for (std::size_t i = 0; i < ladder.ohm.size(); ++i) {
    plots::SchematicGroup group;
    if (i >= above) group.cells.push_back(tap(ladder.steps[i - above]));
    if (i + 1 < ladder.ohm.size())
      group.cells.push_back({Cell::Kind::parts, resistor(ladder.ohm[i]), {}, {}, ""});
    else
      group.cells.push_back(
          {Cell::Kind::ground_end, {}, {}, resistor(ladder.ohm[i]), "earphone's return"});
    group.label = fmt::format("R{}", i + 1);
    drawing.groups.push_back(std::move(group));
  }
  return drawing;
}

}  // namespace ohmtilt::cli
