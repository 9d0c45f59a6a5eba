#include <fmt/format.h>

#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/report/sections.h>

#include <algorithm>
#include <cmath>
#include <functional>

namespace ohmtilt::cli {
namespace {

// ---- data tables -------------------------------------------------------------------------------

/// The points of a rising grid that are nearest to the middles of the third-octaves, each once.
std::vector<Eigen::Index> shown_points(const Array& hz) {
  std::vector<Eigen::Index> points;
  for (const auto& band : third_octaves()) {
    if (band.exact_hz < hz[0] * 0.99 || band.exact_hz > hz[hz.size() - 1] * 1.01) continue;
    Eigen::Index nearest = 0;
    (hz / band.exact_hz).log().abs().minCoeff(&nearest);
    if (points.empty() || points.back() < nearest) points.push_back(nearest);
  }
  return points;
}

struct Column {
  std::string name;
  std::function<std::string(Eigen::Index)> cell;
};

Column decibels(const std::string& name, const Array& values, bool with_sign = false) {
  return {name, [values, with_sign](Eigen::Index i) {
            if (!std::isfinite(values[i])) return std::string("-");
            const double step = with_sign ? 100 : 10;  // 0.0 added makes -0 a 0
            const double shown = std::round(values[i] * step) / step + 0.0;
            return with_sign ? fmt::format("{:+.2f}", shown) : fmt::format("{:.1f}", shown);
          }};
}

Rows data_rows(const Array& hz, const std::vector<Column>& columns) {
  Rows rows{{"Hz"}};
  for (const auto& column : columns) rows[0].push_back(column.name);
  for (const Eigen::Index i : shown_points(hz)) {
    rows.push_back({fmt::format("{:.4g}", hz[i] < 1e4 ? hz[i] : std::round(hz[i]))});
    if (hz[i] >= 1e4) rows.back()[0] = fmt::format("{:.0f}", hz[i]);
    for (const auto& column : columns) rows.back().push_back(column.cell(i));
  }
  return rows;
}

Markup data_table(const std::string& caption, const Array& hz, const std::vector<Column>& columns) {
  return folded("The numbers: " + caption, table(data_rows(hz, columns), {caption, true}));
}

// ---- what is folded -----------------------------------------------------------------------------

Markup response_data(const EarphoneFindings& found) {
  const Comparison& comparison = found.comparison;
  const Array ohm = comparison.load_ohm.abs();
  const Array phase = unwrapped_deg(comparison.load_ohm.arg() / degree);
  std::vector<Column> columns{
      decibels("deviation, dB", found.compared().deviation.deviation_db, true),
      {"|Z|, ohm", [ohm](Eigen::Index i) { return fmt::format("{:.4g}", ohm[i]); }},
      {"phase, degrees", [phase](Eigen::Index i) {
         return fmt::format("{:.1f}", std::round(10 * phase[i]) / 10 + 0.0);
       }}};
  if (comparison.response_before_db.size() > 0) {
    columns.push_back(decibels("response before, dB SPL", comparison.response_before_db));
    columns.push_back(decibels("after, dB SPL", found.compared().response_db));
  }
  return data_table("response and impedance", comparison.grid.grid_hz, columns);
}

Markup response_detail(const EarphoneFindings& found) {
  const Comparison& comparison = found.comparison;
  return table(case_rows(comparison, found.compared()),
               {fmt::format("{} instead of {}", printable(found.compared().label),
                            printable(comparison.from_label)),
                false}) +
         table(band_rows(comparison, false), {"Mean deviation over each octave", true}) +
         response_data(found);
}

Markup decay_detail(const EarphoneFindings& found) {
  if (!found.damping) return {};
  Markup inside = table(factor_rows(*found.damping), {"Damping factor", true}) +
                  paragraph(factor_notes(*found.damping));
  for (const auto& rows : mode_tables(found.damping->damping))
    inside += table(rows, {"Resonances: " + rows[0][0], true});
  return inside;
}

Markup gain_tables(const HeadroomFound& found) {
  const Headroom& headroom = found.result;
  if (headroom.gain.empty()) return {};
  const VolumeLaw& law = *found.input.chain.source().volume;
  Markup text = table(gain_rows(law, headroom.gain), {"The volume control at the target", true});
  if (!headroom.gain_without_pad.empty())
    text += table(gain_rows(law, headroom.gain_without_pad),
                  {"Without the pad (the control is set lower)", true});
  return text + bullets(gain_notes(headroom));
}

Markup level_detail(const EarphoneFindings& found) {
  if (!found.headroom) return {};
  const HeadroomFound& level = *found.headroom;
  const LargestLevel& largest = level.result.largest;
  const Column by{"limited by", [&largest](Eigen::Index i) {
                    return std::string(to_string(largest.limited_by[static_cast<std::size_t>(i)]));
                  }};
  return table(target_rows(level), {"What the target needs", false}) + gain_tables(level) +
         paragraph(needed_volt_text(level.result)) +
         data_table("largest clean tone", largest.hz,
                    {decibels("largest tone, dB SPL", largest.spl_db), by});
}

Markup hiss_detail(const EarphoneFindings& found) {
  if (!found.hiss) return {};
  const HissFound& noise = *found.hiss;
  std::vector<Column> columns{decibels("noise, dB SPL", noise.result.band_db)};
  if (noise.against) columns.push_back(decibels("compared, dB SPL", noise.against->band_db));
  columns.push_back(decibels("threshold, dB SPL", noise.result.threshold_db));
  return table(parts_rows(noise.result), {"Where the noise comes from", false}) +
         paragraph(pad_text(noise.result)) +
         data_table("noise in third-octaves", noise.result.band_hz, columns);
}

Markup channels_detail(const EarphoneFindings& found) {
  if (!found.crosstalk) return {};
  const CrosstalkFound& apart = *found.crosstalk;
  return table(separation_rows(apart), {"Channel separation", false}) +
         data_table("channel separation", apart.result.hz,
                    {decibels("channel separation, dB", apart.result.separation_db)});
}

/// Folded, and not there where it is empty.
Markup detail(const char* title, const Markup& inside) {
  return inside.empty() ? inside : folded(title, inside);
}

// ---- what is told ------------------------------------------------------------------------------

std::string level_text(const Comparison& comparison) {
  if (comparison.grid.anchor_hz.size() == 0) return "";
  const Deviation& d = comparison.cases.front().deviation;
  return fmt::format("{} {}; both responses {}.", db_text(std::abs(d.level_change_db)),
                     d.level_change_db < 0 ? "softer" : "louder",
                     anchor_text(comparison.grid.anchor));
}

std::string hiss_text(const HissFound& noise) {
  std::string text = fmt::format("{}; {}.", conclusion(noise.result), bands_text(noise.result));
  if (noise.against)
    text += fmt::format(" With {}: {}; {}.", printable(noise.input.against->title()),
                        conclusion(*noise.against), bands_text(*noise.against));
  return text;
}

std::string loudness_text(const HeadroomFound& level) {
  std::string text = conclusion(level.result.target) + ".";
  if (level.against)
    text += fmt::format(" With {}: {}.", printable(level.input.against->title()),
                        conclusion(level.against->target));
  return text;
}

/// Where the control stands at the first gain step, before and after.
std::string volume_text(const EarphoneFindings& found) {
  const Merits before = merits_before(found), after = merits_after(found);
  if (!after.travel_percent || !after.imbalance_db) return "";
  std::string text = fmt::format(
      "At {:.1f} % of its travel for {} dB SPL, channel imbalance {:.1f} "
      "dB: {}.",
      *after.travel_percent, number_text(found.headroom->how.target_db), *after.imbalance_db,
      imbalance_weight(*after.imbalance_db));
  if (before.travel_percent && before.imbalance_db)
    text += fmt::format(" With {}: at {:.1f} %, {:.1f} dB: {}.",
                        printable(found.headroom->input.against->title()), *before.travel_percent,
                        *before.imbalance_db, imbalance_weight(*before.imbalance_db));
  return text;
}

std::string channels_text(const CrosstalkFound& apart) {
  return fmt::format("{} ({}).", conclusion(apart.input.chain, apart.result), how_text(apart.how));
}

/// What is not known of a topic for this earphone; what the chain does not say stands once, at the
/// end of the page.
Markup gaps_of(const EarphoneFindings& found, Topic topic) {
  Markup text;
  for (const auto& gap : found.gaps)
    if (gap.topic == topic)
      text += element("span", {{"class", "gap"}}, words_with_code(sentence(gap))) + words(" ");
  return text;
}

/// A name, what is said of it, and what is not known; nothing where that is nothing.
void add_finding(const char* name, const std::string& text, const Markup& gaps, Markup& list) {
  if (text.empty() && gaps.empty()) return;
  list += element("dt", words(name)) + element("dd", words(text + " ") + gaps);
}

Markup findings_list(const EarphoneFindings& found) {
  const auto gaps = [&](Topic topic) { return gaps_of(found, topic); };
  Markup list;
  add_finding("Level", level_text(found.comparison), {}, list);
  if (found.comparison.largest_source)
    add_finding("Sources", largest_source_text(found.comparison), gaps(Topic::response), list);
  add_finding("Hiss", found.hiss ? hiss_text(*found.hiss) : "", gaps(Topic::hiss), list);
  add_finding("Volume", volume_text(found), {}, list);
  add_finding("Loudness", found.headroom ? loudness_text(*found.headroom) : "", gaps(Topic::level),
              list);
  add_finding("Decay", found.damping ? conclusion(*found.damping) : "", gaps(Topic::decay), list);
  add_finding("Channels", found.crosstalk ? channels_text(*found.crosstalk) : "",
              gaps(Topic::channels), list);
  return list.empty() ? list : element("dl", list);
}

std::string about(const EarphoneFindings& found) {
  const Array ohm = found.comparison.load_ohm.abs();
  std::string text = fmt::format(
      "{}{} to {}, {}", found.earphone.kind.empty() ? "" : printable(found.earphone.kind) + "; ",
      ohm_text(ohm.minCoeff()), ohm_text(ohm.maxCoeff()), phase_text(found.earphone.phase));
  if (found.earphone.curve && !found.earphone.curve->notes().condition.empty())
    text += "; condition: " + printable(found.earphone.curve->notes().condition);
  return text + " (" + found.file + ").";
}

Markup pair(const Markup& figures) {
  return figures.empty() ? figures : element("div", {{"class", "pair"}}, figures);
}

}  // namespace

Markup earphone_section(const ReportFindings& report, std::size_t index,
                        const ReportFigures& figures) {
  const EarphoneFindings& found = report.earphones[index];
  const Place place = earphone_place(report, index);
  const auto figure = [&](const char* what) { return figures.of(figure_name(index, what)); };
  return element("section", {{"id", place.anchor}, {"class", "earphone"}},
                 section_heading(place, row_anchor(index)) +
                     element("p", {{"class", "about"}}, words(about(found))) +
                     element("p", {{"class", "lead"}}, words(conclusion(found.compared()))) +
                     span_scale(found.span_db()) + figure("response") +
                     pair(figure("hiss") + figure("volume")) + findings_list(found) +
                     detail("More figures: limits of level, decay, channels",
                            pair(figure("level") + figure("decay") + figure("channels"))) +
                     detail("Tables: response", response_detail(found)) +
                     detail("Tables: hiss", hiss_detail(found)) +
                     detail("Tables: headroom and volume", level_detail(found)) +
                     detail("Tables: damping and decay", decay_detail(found)) +
                     detail("Tables: crosstalk", channels_detail(found)));
}

}  // namespace ohmtilt::cli
