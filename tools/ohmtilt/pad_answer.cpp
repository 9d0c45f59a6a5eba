#include <fmt/format.h>

#include <ohmtilt/base/text.h>
#include <ohmtilt/design/pad_tradeoff.h>
#include <tools/ohmtilt/pad_answer.h>
#include <tools/ohmtilt/wording.h>
#include <algorithm>
#include <cmath>
#include <map>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t most_text_rows = 12;

// ---- JSON --------------------------------------------------------------------------------------

Json candidate_json(const PadCandidate& one, bool with_error) {
  return {{"topology", topology_name(one.pad.topology)},
          {"values_ohm", one.pad.ohm},
          {"attenuation_db", one.attenuation_db},
          {"attenuation_error_db", with_error ? Json(one.attenuation_error_db) : Json(nullptr)},
          {"output_ohm", one.output_ohm},
          {"span_db", one.span_db},
          {"input_min_ohm", one.input_min_ohm},
          {"largest_ampere", one.largest_ampere},
          {"dissipation_milliwatt", one.dissipation_milliwatt},
          {"attenuation_p95_db", one.attenuation_p95_db},
          {"channel_difference_p95_db", one.channel_difference_p95_db},
          {"noise_volt_a_weighted", one.noise_volt_a_weighted},
          {"pareto", one.pareto}};
}

Json parts_json(const PadCandidate& one) {
  Json parts = Json::array();
  for (const auto& part : pad_parts(one.pad, one.dissipation_milliwatt))
    parts.push_back({{"name", part.name},
                     {"count", part.count},
                     {"ohm", part.ohm},
                     {"code", part.code},
                     {"rating_watt", part.rating_watt},
                     {"tolerance_percent", part.tolerance_percent}});
  return parts;
}

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
                     {"shunt_ohm", step.pad.ohm[1]}});
  return {{"ohm", ladder.ohm}, {"steps", steps}};
}

// ---- text --------------------------------------------------------------------------------------

std::string anchored_text(const PadReport& report, const PadSite& site) {
  const std::string where = std::holds_alternative<AnchorBand>(report.anchor)
                                ? "on average over the anchor band"
                                : "at " + hz_text(site.reference_hz());
  if (!report.rated_ohm) return "into the earphone " + where;
  return "into " + ohm_text(*report.rated_ohm);
}

/// Rows to show: the recommended one and others evenly along the front.
std::vector<std::size_t> shown_rows(const PadSearch& search) {
  const std::size_t count = search.candidates.size();
  std::vector<std::size_t> rows;
  for (std::size_t i = 0; i < std::min(count, most_text_rows); ++i)
    rows.push_back(count <= most_text_rows ? i : i * (count - 1) / (most_text_rows - 1));
  if (search.recommended) rows.push_back(*search.recommended);
  std::sort(rows.begin(), rows.end());
  rows.erase(std::unique(rows.begin(), rows.end()), rows.end());
  return rows;
}

std::string candidates_table(const PadSearch& search) {
  std::vector<std::vector<std::string>> rows{{"pad, ohm", "loss, dB", "output, ohm", "span, dB",
                                              "input, ohm", "loss 95 %", "channels 95 %"}};
  for (const std::size_t i : shown_rows(search)) {
    const PadCandidate& one = search.candidates[i];
    rows.push_back({pad_name(one.pad) + (search.recommended == i ? " *" : ""),
                    fmt::format("{:.2f}", one.attenuation_db),
                    fmt::format("{:.3g}", one.output_ohm), fmt::format("{:.2f}", one.span_db),
                    fmt::format("{:.3g}", one.input_min_ohm),
                    fmt::format("±{:.2f}", one.attenuation_p95_db),
                    fmt::format("{:.2f}", one.channel_difference_p95_db)});
  }
  return aligned(rows);
}

std::string parts_table(const PadCandidate& one) {
  std::vector<std::vector<std::string>> rows{
      {"part", "code", "ohm", "heat", "rating", "tolerance"}};
  const auto parts = pad_parts(one.pad, one.dissipation_milliwatt);
  for (std::size_t i = 0; i < parts.size(); ++i)
    rows.push_back(
        {(parts[i].count > 1 ? std::to_string(parts[i].count) + " x " : "") + parts[i].name,
         parts[i].code, number_text(parts[i].ohm),
         fmt::format("{:.3g} mW", one.dissipation_milliwatt[i]),
         number_text(parts[i].rating_watt) + " W", number_text(parts[i].tolerance_percent) + " %"});
  return aligned(rows);
}

std::string recommended_text(const PadReport& report, const PadSite& site) {
  const PadCandidate& best = report.search.candidates[*report.search.recommended];
  std::vector<std::vector<std::string>> rows;
  rows.push_back({"attenuation", db_text(best.attenuation_db), anchored_text(report, site)});
  rows.push_back({"output impedance", ohm_text(best.output_ohm), "with the source"});
  rows.push_back({"span of the deviation it brings", db_text(best.span_db)});
  rows.push_back({"lowest load to the amplifier", ohm_text(best.input_min_ohm)});
  rows.push_back({"largest current", fmt::format("{:.3g} mA", 1000 * best.largest_ampere),
                  "at " + number_text(site.open_volt()) + " V"});
  rows.push_back(
      {"its own noise, A-weighted", fmt::format("{:.3g} uV", 1e6 * best.noise_volt_a_weighted)});
  return pad_name(best.pad) + "\n" + report.search.reason + "\n" + aligned(rows) + "\n" +
         parts_table(best);
}

std::string ladder_text(const SwitchedAttenuator& ladder) {
  std::string row;
  for (const double ohm : ladder.ohm) row += (row.empty() ? "" : ", ") + number_text(ohm);
  std::vector<std::vector<std::string>> rows{{"step, dB", "loss, dB", "output, ohm", "span, dB",
                                              "input, ohm", "loss 95 %", "channels 95 %"}};
  for (const auto& step : ladder.steps)
    rows.push_back({number_text(step.asked_db), fmt::format("{:.2f}", step.attenuation_db),
                    fmt::format("{:.3g}", step.output_ohm), fmt::format("{:.2f}", step.span_db),
                    fmt::format("{:.3g}", step.input_min_ohm),
                    fmt::format("±{:.2f}", step.spread.attenuation_p95_db),
                    fmt::format("{:.2f}", step.spread.channel_difference_p95_db)});
  return "A row of resistors across the amplifier, from it to the return: " + row +
         " ohm.\nThe switch takes the earphone to one of its joints.\n" + aligned(rows);
}

}  // namespace

std::string pad_name(const Pad& pad) {
  std::string name(topology_name(pad.topology));
  for (std::size_t i = 0; i < pad.ohm.size(); ++i)
    name += (i ? " / " : " ") + fmt::format("{:.4g}", pad.ohm[i]);
  return name;
}

Json pad_json(const PadReport& report, const PadSite& site) {
  Json json{{"earphone", report.earphone_title},
            {"source", report.source_label},
            {"anchor_hz", anchor_json(report.anchor)},
            {"rated_ohm", json_number(report.rated_ohm)},
            {"asked_attenuation_db", json_number(report.attenuation_db)},
            {"open_volt", site.open_volt()},
            {"candidates", Json::array()},
            {"recommended", nullptr},
            {"reason", nullptr},
            {"parts", Json::array()},
            {"searched", static_cast<std::int64_t>(report.search.searched)},
            {"ladder", nullptr}};
  for (const auto& one : report.search.candidates)
    json["candidates"].push_back(candidate_json(one, report.attenuation_db.has_value()));
  if (const auto best = report.search.recommended) {
    json["recommended"] = *best;
    json["reason"] = report.search.reason;
    json["parts"] = parts_json(report.search.candidates[*best]);
  }
  if (report.ladder) json["ladder"] = ladder_json(*report.ladder);
  return json;
}

std::string pad_text(const PadReport& report, const PadSite& site) {
  std::string text =
      printable(report.earphone_title) + " behind " + printable(report.source_label) + "\n\n";
  if (report.ladder) return text + ladder_text(*report.ladder);
  const PadSearch& search = report.search;
  if (!search.recommended)
    return text + fmt::format("No pad keeps the limits: {:.0f} combinations were tried.\n",
                              search.searched);
  text += recommended_text(report, site);
  if (search.candidates.size() == 1) return text;
  const auto front = std::count_if(search.candidates.begin(), search.candidates.end(),
                                   [](const PadCandidate& one) { return one.pareto; });
  text += fmt::format("\n{} of {:.0f} combinations {} beaten by no other (* recommended):\n", front,
                      search.searched, front == 1 ? "is" : "are");
  return text + candidates_table(search);
}

namespace {

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
  add("series_ohm", [](const auto& s) { return s.pad.ohm[0]; });
  add("shunt_ohm", [](const auto& s) { return s.pad.ohm[1]; });
  return table;
}

}  // namespace

CsvTable pad_csv(const PadReport& report) {
  if (report.ladder) return ladder_csv(*report.ladder);
  const auto column = [&](const auto& value) {
    Array values(static_cast<Eigen::Index>(report.search.candidates.size()));
    for (Eigen::Index i = 0; i < values.size(); ++i)
      values[i] = value(report.search.candidates[static_cast<std::size_t>(i)]);
    return values;
  };
  CsvTable table;
  table.add("resistors",
            column([](const auto& c) { return double(resistor_count(c.pad.topology)); }));
  for (std::size_t k = 0; k < 4; ++k)
    table.add("ohm_" + std::to_string(k + 1),
              column([k](const auto& c) { return k < c.pad.ohm.size() ? c.pad.ohm[k] : 0.0; }));
  table.add("attenuation_db", column([](const auto& c) { return c.attenuation_db; }));
  table.add("output_ohm", column([](const auto& c) { return c.output_ohm; }));
  table.add("span_db", column([](const auto& c) { return c.span_db; }));
  table.add("input_min_ohm", column([](const auto& c) { return c.input_min_ohm; }));
  table.add("largest_ampere", column([](const auto& c) { return c.largest_ampere; }));
  return table;
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

plots::PadFigure pad_figure(const PadReport& report, const PadSite& site) {
  plots::PadFigure figure;
  figure.earphone_title = report.earphone_title;
  const PadSearch& search = report.search;
  const PadCandidate& best = search.candidates[*search.recommended];
  figure.conclusion = fmt::format("{}: {:.1f} dB, {}, span {:.2f} dB", pad_name(best.pad),
                                  best.attenuation_db, ohm_text(best.output_ohm), best.span_db);
  figure.caption = fmt::format("Behind {}, {} V; attenuation {}", report.source_label,
                               number_text(site.open_volt()), anchored_text(report, site));
  const double db = report.attenuation_db.value_or(best.attenuation_db);
  const PadTradeoff curve = pad_tradeoff(site, db);
  figure.exact_label = fmt::format("exact L, {} dB", number_text(std::round(100 * db) / 100));
  figure.exact_output_ohm = curve.output_ohm;
  figure.exact_milliampere = 1000 * curve.largest_ampere;
  figure.exact_span_db = curve.span_db;
  std::map<PadTopology, plots::PadMarks> groups;
  for (const auto& one : search.candidates) {
    auto& group = groups[one.pad.topology];
    group.label = std::string(topology_name(one.pad.topology)) + " pads";
    group.output_ohm.push_back(one.output_ohm);
    group.milliampere.push_back(1000 * one.largest_ampere);
    group.span_db.push_back(one.span_db);
  }
  for (auto& [topology, group] : groups) figure.pads.push_back(std::move(group));
  figure.recommended_ohm = best.output_ohm;
  figure.recommended_label = pad_name(best.pad);
  if (report.max_ampere) figure.limit_milliampere = 1000 * *report.max_ampere;
  return figure;
}

}  // namespace ohmtilt::cli
