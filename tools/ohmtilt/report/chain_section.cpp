#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/report/sections.h>

namespace ohmtilt::cli {
namespace {

std::string given(const std::optional<double>& value, const char* unit, double factor = 1) {
  return value ? fmt::format("{:.4g} {}", *value * factor, unit) : std::string("not given");
}

std::string gains_text(const std::vector<double>& gains) {
  std::vector<std::string> texts;
  for (const double gain : gains) texts.push_back(fmt::format("{:+g} dB", gain));
  return texts.empty() ? "one" : listed(texts);
}

std::string output_text(const Source& source) {
  std::string text = source.output_curve ? "measured curve" : ohm_text(source.output_ohm);
  if (source.output_farad)
    text += fmt::format(" and {:.3g} \u00b5F in series", *source.output_farad * 1e6);
  return text + (source.balanced ? ", balanced" : "");
}

std::string noise_text(const Source& source) {
  if (!source.noise_volt) return "not given";
  return fmt::format("{:.3g} \u00b5V {}", *source.noise_volt * 1e6,
                     source.noise_weighting == NoiseWeighting::a ? "A-weighted" : "20 Hz-20 kHz");
}

Rows source_rows(const Source& source) {
  return {{"output", output_text(source)},
          {"largest clean voltage, open", given(source.open_volt, "V")},
          {"largest current", given(source.max_ampere, "mA", 1000)},
          {"gain steps", gains_text(source.gain_db)},
          {"input at full scale", given(source.input_volt, "V")},
          {"noise at the output", noise_text(source)},
          {"volume control", source.volume ? "given" : "not given"},
          {"bias at the output",
           source.bias_volt == 0 ? "none" : fmt::format("{:g} V", source.bias_volt)}};
}

/// Power figures do not depend on the earphone: those of the first one that has any.
Markup power_facts(const ReportFindings& report) {
  for (const auto& found : report.earphones) {
    if (!found.headroom) continue;
    const Headroom& headroom = found.headroom->result;
    Markup facts = paragraph(player_text(headroom));
    if (!headroom.power) return facts;
    return paragraph("Power: " + power_conclusion(*headroom.power) + ".") +
           table(power_rows(*headroom.power), {"Power figures", true}) +
           bullets(power_notes(*headroom.power)) + facts;
  }
  return {};
}

}  // namespace

Markup chain_section(const ReportFindings& report, const ReportFigures& figures) {
  const Place place = chain_place();
  return element(
      "section", {{"id", place.anchor}},
      section_heading(place) +
          paragraph(fmt::format("{} ({}).", printable(report.chain.title()), report.file)) +
          paragraph(report.against_is) + figures.of("chain") +
          table(source_rows(report.chain.source()),
                {"What the file says of the amplifier", false}) +
          power_facts(report));
}

}  // namespace ohmtilt::cli
