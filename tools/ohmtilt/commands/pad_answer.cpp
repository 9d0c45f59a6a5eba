#include <fmt/format.h>

#include <ohmtilt/design/pad/pad_tradeoff.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/pad_answer.h>
#include <tools/ohmtilt/commands/pad_switch.h>
#include <tools/ohmtilt/program/pad_limits.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <map>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t most_shown_pads = 12;

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

Json parts_json(const PadCandidate& one, double celsius) {
  Json parts = Json::array();
  for (const auto& part : pad_parts(one.pad, one.dissipation_milliwatt, celsius))
    parts.push_back({{"name", part.name},
                     {"count", part.count},
                     {"ohm", part.ohm},
                     {"code", part.code},
                     {"rating_watt", part.rating_watt},
                     {"tolerance_percent", part.tolerance_percent}});
  return parts;
}

// ---- text --------------------------------------------------------------------------------------

/// Rows to show: the recommended one and others evenly along the front.
std::vector<std::size_t> shown_rows(const PadSearch& search) {
  const std::size_t count = search.candidates.size();
  std::vector<std::size_t> rows;
  for (std::size_t i = 0; i < std::min(count, most_shown_pads); ++i)
    rows.push_back(count <= most_shown_pads ? i : i * (count - 1) / (most_shown_pads - 1));
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
                    fmt::format("{:.2f}", one.attenuation_db), significant(one.output_ohm),
                    fmt::format("{:.2f}", one.span_db), significant(one.input_min_ohm),
                    fmt::format("±{:.2f}", one.attenuation_p95_db),
                    fmt::format("{:.2f}", one.channel_difference_p95_db)});
  }
  return aligned(rows);
}

std::string parts_table(const PadCandidate& one, double celsius) {
  std::vector<std::vector<std::string>> rows{
      {"part", "code", "ohm", "heat", "rating", "tolerance"}};
  const auto parts = pad_parts(one.pad, one.dissipation_milliwatt, celsius);
  for (std::size_t i = 0; i < parts.size(); ++i)
    rows.push_back(
        {(parts[i].count > 1 ? std::to_string(parts[i].count) + " x " : "") + parts[i].name,
         parts[i].code, significant(parts[i].ohm, 6),
         significant(one.dissipation_milliwatt[i]) + " mW",
         number_text(parts[i].rating_watt) + " W", number_text(parts[i].tolerance_percent) + " %"});
  return aligned(rows);
}

/// Where the figures are taken of a pad that stages follow.
std::string after_text(const PadReport& report) {
  if (!report.after) return "";
  return fmt::format(
      "The pad stands behind {} of the chain; its output impedance and noise are those at its own "
      "output.\n",
      *report.after == 0   ? "no stage"
      : *report.after == 1 ? "the first stage"
                           : fmt::format("the first {} stages", *report.after));
}

std::string recommended_text(const PadReport& report, const PadSite& site) {
  const PadCandidate& best = report.search.candidates[*report.search.recommended];
  std::vector<std::vector<std::string>> rows;
  rows.push_back({"attenuation", db_text(best.attenuation_db), anchored_text(report, site)});
  rows.push_back({"output impedance", ohm_text(best.output_ohm), "with the source"});
  const std::string from = report.from_label ? " from " + short_name(*report.from_label, 24) : "";
  rows.push_back({"span (largest minus smallest deviation" + from + ")", db_text(best.span_db)});
  rows.push_back({"lowest load to the amplifier", ohm_text(best.input_min_ohm)});
  rows.push_back({"largest current", significant(1000 * best.largest_ampere) + " mA",
                  "at " + number_text(site.open_volt()) + " V"});
  rows.push_back(
      {"its own noise, A-weighted", fmt::format("{:.3g} uV", 1e6 * best.noise_volt_a_weighted)});
  return pad_name(best.pad) + "\n" + report.search.reason + "\n" + exceeded_text(report) +
         aligned(rows) + after_text(report) + "\n" + parts_table(best, report.ambient_celsius);
}

/// That there is none, why, and what comes nearest.
std::string none_text(const PadReport& report) {
  const std::string tried =
      fmt::format("{:.0f} combinations were tried.\n", report.search.searched);
  if (!report.nearest) return "No pad keeps the limits: " + tried;
  const PadCandidate& near = report.nearest->pad;
  if (report.nearest->exceeded.empty())
    return fmt::format(
        "No pad comes within {} of {}: {}The nearest, {} ohm, attenuates by {}: more values "
        "(--series, "
        "--range) or a wider --within would find one.\n",
        db_text(report.within_db), db_text(*report.attenuation_db), tried, pad_name(near.pad),
        db_text(near.attenuation_db));
  return fmt::format("No pad keeps the limits: {}The nearest, {} ohm, exceeds: {}.\n", tried,
                     pad_name(near.pad), said(limit_texts(report.nearest->exceeded)));
}

}  // namespace

std::string anchored_text(const PadReport& report, const PadSite& site) {
  const std::string where = std::holds_alternative<AnchorBand>(report.anchor)
                                ? "on average over the reference band"
                                : "at " + hz_text(site.reference_hz());
  if (!report.rated_ohm) return "into the earphone " + where;
  return "into " + ohm_text(*report.rated_ohm);
}

std::string exceeded_text(const PadReport& report) {
  return report.exceeded.empty() ? "" : "It exceeds a limit: " + said(report.exceeded) + ".\n";
}

std::string pad_name(const Pad& pad) {
  std::string name(topology_name(pad.topology));
  for (std::size_t i = 0; i < pad.ohm.size(); ++i)
    name += (i ? " / " : " ") + significant(pad.ohm[i], 4);
  return name;
}

std::vector<ListedPart> listed_pad_parts(const PadReport& report) {
  const PadCandidate& best = report.search.candidates[*report.search.recommended];
  std::vector<ListedPart> listed;
  const auto parts = pad_parts(best.pad, best.dissipation_milliwatt, report.ambient_celsius);
  for (std::size_t i = 0; i < parts.size(); ++i)
    for (int leg = 0; leg < parts[i].count && parts[i].ohm > 0; ++leg)
      listed.push_back({parts[i].name + (leg > 0 ? "_return" : ""),
                        "resistor",
                        parts[i].ohm,
                        "ohm",
                        {},
                        parts[i].tolerance_percent,
                        best.dissipation_milliwatt[i],
                        parts[i].rating_watt});
  return listed;
}

std::vector<ListedPart> listed_ladder_parts(const SwitchedAttenuator& ladder,
                                            double tolerance_percent, double celsius) {
  std::vector<ListedPart> listed;
  for (std::size_t i = 0; i < ladder.ohm.size(); ++i) {
    double milliwatt = 0;
    for (const auto& step : ladder.steps)
      milliwatt = std::max(milliwatt, step.dissipation_milliwatt[i]);
    listed.push_back({"R" + std::to_string(i + 1),
                      "resistor",
                      ladder.ohm[i],
                      "ohm",
                      {},
                      tolerance_percent,
                      milliwatt,
                      standard_rating_watt(milliwatt / 1000, celsius)});
  }
  return listed;
}

Json pad_json(const PadReport& report, const PadSite& site) {
  Json json{{"earphone", report.earphone_title},
            {"source", report.source_label},
            {"from", report.from_label ? Json(*report.from_label) : Json(nullptr)},
            {"reference_hz", anchor_json(report.anchor)},
            {"rated_ohm", json_number(report.rated_ohm)},
            {"asked_attenuation_db", json_number(report.attenuation_db)},
            {"open_volt", site.open_volt()},
            {"after", report.after ? Json(*report.after) : Json(nullptr)},
            {"ambient_celsius", report.ambient_celsius},
            {"candidates", Json::array()},
            {"recommended", nullptr},
            {"reason", nullptr},
            {"parts", Json::array()},
            {"searched", static_cast<std::int64_t>(report.search.searched)},
            {"ladder", nullptr},
            {"limits_exceeded", report.exceeded},
            {"nearest", nullptr}};
  if (report.nearest) {
    json["nearest"] = candidate_json(report.nearest->pad, report.attenuation_db.has_value());
    json["limits_exceeded"] = limit_texts(report.nearest->exceeded);
  }
  for (const auto& one : report.search.candidates)
    json["candidates"].push_back(candidate_json(one, report.attenuation_db.has_value()));
  if (const auto best = report.search.recommended) {
    json["recommended"] = *best;
    json["reason"] = report.search.reason;
    json["parts"] = parts_json(report.search.candidates[*best], report.ambient_celsius);
  }
  if (report.ladder) json["ladder"] = ladder_json(*report.ladder);
  return json;
}

std::string pad_text(const PadReport& report, const PadSite& site) {
  std::string text =
      printable(report.earphone_title) + " behind " + printable(report.source_label) + "\n\n";
  if (report.ladder) return text + ladder_text(report);
  const PadSearch& search = report.search;
  if (!search.recommended) return text + none_text(report);
  text += recommended_text(report, site);
  if (search.candidates.size() == 1) return text;
  const auto front = std::count_if(search.candidates.begin(), search.candidates.end(),
                                   [](const PadCandidate& one) { return one.pareto; });
  const std::size_t shown = shown_rows(search).size();
  text += fmt::format("\n{} of {:.0f} combinations {} Pareto-optimal (* recommended)", front,
                      search.searched, front == 1 ? "is" : "are");
  text += shown < search.candidates.size()
              ? fmt::format("; {} shown (--json and --csv have all):\n", shown)
              : ":\n";
  return text + candidates_table(search);
}

CsvTable pad_csv(const PadReport& report) {
  if (report.ladder) return ladder_csv(*report.ladder);
  const auto column = [&](const auto& value) {
    Array values(static_cast<Eigen::Index>(report.search.candidates.size()));
    for (Eigen::Index i = 0; i < values.size(); ++i)
      values[i] = value(report.search.candidates[static_cast<std::size_t>(i)]);
    return values;
  };
  std::vector<std::string> topologies;
  for (const auto& one : report.search.candidates)
    topologies.emplace_back(topology_name(one.pad.topology));
  CsvTable table;
  table.add("topology", topologies);
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
  for (std::size_t k = 0; k < 4; ++k)
    table.add("dissipation_milliwatt_" + std::to_string(k + 1), column([k](const auto& c) {
                const auto& heat = c.dissipation_milliwatt;
                return k < heat.size() ? heat[k] : 0.0;
              }));
  table.add("noise_volt_a_weighted", column([](const auto& c) { return c.noise_volt_a_weighted; }));
  table.add("attenuation_p95_db", column([](const auto& c) { return c.attenuation_p95_db; }));
  table.add("channel_difference_p95_db",
            column([](const auto& c) { return c.channel_difference_p95_db; }));
  return table;
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
