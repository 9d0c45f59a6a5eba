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
            return with_sign ? fmt::format("{:+.2f}", values[i] == 0 ? 0.0 : values[i])
                             : fmt::format("{:.1f}", values[i]);
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

// ---- one section a question --------------------------------------------------------------------

/// What is not known of a topic, for the chain and for this earphone.
Markup gaps_of(const ReportFindings& report, const EarphoneFindings& found, Topic topic) {
  Markup text;
  for (const auto* gaps : {&report.gaps, &found.gaps})
    for (const auto& gap : *gaps)
      if (gap.topic == topic)
        text += element("p", {{"class", "gap"}}, words_with_code(sentence(gap)));
  return text;
}

Markup topic(const char* title, const Markup& inside) {
  return inside.empty() ? inside : heading(3, title) + inside;
}

Markup response_data(const EarphoneFindings& found) {
  const Comparison& comparison = found.comparison;
  const Array ohm = comparison.load_ohm.abs();
  const Array phase = unwrapped_deg(comparison.load_ohm.arg() / degree);
  std::vector<Column> columns{
      decibels("deviation, dB", found.compared().deviation.deviation_db, true),
      {"|Z|, ohm", [ohm](Eigen::Index i) { return fmt::format("{:.4g}", ohm[i]); }},
      {"phase, degrees", [phase](Eigen::Index i) { return fmt::format("{:.1f}", phase[i]); }}};
  if (comparison.response_before_db.size() > 0) {
    columns.push_back(decibels("response before, dB", comparison.response_before_db));
    columns.push_back(decibels("after, dB", found.compared().response_db));
  }
  return data_table("response and impedance", comparison.grid.grid_hz, columns);
}

Markup largest_source(const Comparison& comparison) {
  return comparison.largest_source ? paragraph(largest_source_text(comparison)) : Markup();
}

Markup response_topic(const ReportFindings& report, const EarphoneFindings& found,
                      const Markup& figure) {
  const Comparison& comparison = found.comparison;
  return topic("Response and impedance",
               paragraph(conclusion(found.compared())) + largest_source(comparison) + figure +
                   table(case_rows(comparison, found.compared()),
                         {fmt::format("{} instead of {}", printable(found.compared().label),
                                      printable(comparison.from_label)),
                          false}) +
                   table(band_rows(comparison, false), {"Mean deviation over each octave", true}) +
                   gaps_of(report, found, Topic::response) + response_data(found));
}

Markup decay_topic(const ReportFindings& report, const EarphoneFindings& found,
                   const Markup& figure) {
  Markup inside;
  if (found.damping) {
    const auto tables = mode_tables(found.damping->damping);
    inside += paragraph(conclusion(*found.damping));
    inside += figure;
    if (!tables.empty()) inside += table(tables[0], {"Q of each mode", true});
    inside += table(factor_rows(*found.damping), {"Damping factor", true});
    inside += paragraph(factor_notes(*found.damping));
    Markup decays;
    for (std::size_t i = 1; i < tables.size(); ++i)
      decays += table(tables[i], {"Modes: " + tables[i][0][0], true});
    if (!decays.empty()) inside += folded("The numbers: how fast each mode decays", decays);
  }
  return topic("Damping and decay", inside + gaps_of(report, found, Topic::decay));
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

Markup level_data(const HeadroomFound& found) {
  const LargestLevel& largest = found.result.largest;
  const Column by{"limited by", [&largest](Eigen::Index i) {
                    return std::string(to_string(largest.limited_by[static_cast<std::size_t>(i)]));
                  }};
  return data_table("largest clean tone", largest.hz, {decibels("dB SPL", largest.spl_db), by});
}

Markup level_topic(const ReportFindings& report, const EarphoneFindings& found,
                   const Markup& figure) {
  Markup inside;
  if (found.headroom) {
    const HeadroomFound& level = *found.headroom;
    inside += paragraph(conclusion(level.result.target) + ".");
    if (level.against)
      inside += paragraph(fmt::format("With {}: {}.", printable(level.input.against->title()),
                                      conclusion(level.against->target)));
    inside += figure + table(target_rows(level), {"What the target asks for", false}) +
              gain_tables(level);
    if (level.result.power)
      inside += folded("The numbers: the power claims",
                       paragraph("Power: " + power_conclusion(*level.result.power) + ".") +
                           table(power_rows(*level.result.power), {"Power claims", true}));
    inside += paragraph(safety_text(level.result)) + level_data(level);
  }
  return topic("Headroom and gain", inside + gaps_of(report, found, Topic::level));
}

Markup hiss_data(const HissFound& found) {
  std::vector<Column> columns{decibels("noise, dB SPL", found.result.band_db)};
  if (found.against) columns.push_back(decibels("compared, dB SPL", found.against->band_db));
  columns.push_back(decibels("threshold, dB SPL", found.result.threshold_db));
  return data_table("noise in third-octaves", found.result.band_hz, columns);
}

Markup hiss_topic(const ReportFindings& report, const EarphoneFindings& found,
                  const Markup& figure) {
  Markup inside;
  if (found.hiss) {
    const HissFound& noise = *found.hiss;
    inside += paragraph(fmt::format("{}; {}.", conclusion(noise.result), bands_text(noise.result)));
    if (noise.against)
      inside += paragraph(fmt::format(
          "With {}: {} in total, {:+.1f} dB. {}.", printable(noise.input.against->title()),
          dba_text(noise.against->level_dba), noise.against->level_dba - noise.result.level_dba,
          conclusion(*noise.against)));
    inside += figure + table(parts_rows(noise.result), {"Where the noise comes from", false}) +
              paragraph(pad_text(noise.result)) + hiss_data(noise);
  }
  return topic("Hiss", inside + gaps_of(report, found, Topic::hiss));
}

Markup channels_topic(const ReportFindings& report, const EarphoneFindings& found,
                      const Markup& figure) {
  Markup inside;
  if (found.crosstalk) {
    const CrosstalkFound& apart = *found.crosstalk;
    inside += paragraph(
        fmt::format("{} ({}).", conclusion(apart.input.chain, apart.result), how_text(apart.how)));
    inside += figure + table(separation_rows(apart), {"Channel separation", false}) +
              data_table("channel separation", apart.result.hz,
                         {decibels("channel separation, dB", apart.result.separation_db)});
  }
  return topic("Crosstalk", inside + gaps_of(report, found, Topic::channels));
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

}  // namespace

Markup earphone_section(const ReportFindings& report, std::size_t index,
                        const ReportFigures& figures) {
  const EarphoneFindings& found = report.earphones[index];
  const auto figure = [&](const char* what) { return figures.of(figure_name(index, what)); };
  return element("section", {{"id", earphone_anchor(index)}},
                 heading(2, printable(found.title())) + paragraph(about(found)) +
                     response_topic(report, found, figure("response")) +
                     decay_topic(report, found, figure("decay")) +
                     level_topic(report, found, figure("level")) +
                     hiss_topic(report, found, figure("hiss")) +
                     channels_topic(report, found, figure("channels")));
}

}  // namespace ohmtilt::cli
