#include <fmt/format.h>

#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <tools/ohmtilt/report/sections.h>

#include <algorithm>
#include <cctype>

namespace ohmtilt::cli {
namespace {

/// "NAME: text", where there are several earphones to tell apart.
/// With a capital at its start and a full stop at its end.
std::string as_sentence(std::string text) {
  if (text.empty()) return text;
  text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  while (text.back() == '\n') text.pop_back();
  return text.back() == '.' ? text : text + ".";
}

template <class Member>
bool any(const ReportFindings& report, const Member& member) {
  return std::any_of(report.earphones.begin(), report.earphones.end(), member);
}

std::vector<std::string> assumptions(const ReportFindings& report) {
  std::vector<std::string> texts{
      "Everything is linear (small signal): amplifier, stages and earphone are one circuit, and "
      "all "
      "drivers of an earphone share the voltage at its terminals.",
      "The earphone is worn as its impedance was taken: another acoustic load is another curve.",
      fmt::format("Responses are {}; what that takes away is the change of level.",
                  anchor_text(report.how.comparison.anchor)),
      "Whether a span matters is said by steps that are common practice, without a source: 0.3, 1 "
      "and 3 dB."};
  for (const auto& found : report.earphones)
    if (found.earphone.response)
      texts.push_back(of_earphone(
          report, found,
          fmt::format("its response was measured with a source of {}, which was taken out first",
                      ohm_text(found.earphone.response->source_ohm))));
  for (const auto& found : report.earphones)
    if (found.damping)
      texts.push_back(of_earphone(report, found,
                                  "resonances come from " + model_text(found.damping->earphone)));
  if (any(report, [](const auto& found) { return found.headroom.has_value(); }))
    texts.push_back(fmt::format(
        "Loudness: programme of {} dB SPL whose peaks stand {} dB above it, with the spectrum of "
        "IEC 60268-1.",
        number_text(report.how.headroom.target_db), number_text(report.how.headroom.crest_db)));
  for (const auto& found : report.earphones)
    if (found.hiss) {
      texts.push_back(threshold_text(found.hiss->how.threshold) +
                      ", for young people of normal hearing, in quiet surroundings; resistors at " +
                      number_text(found.hiss->how.kelvin) + " K.");
      break;
    }
  if (any(report, [](const auto& found) { return found.crosstalk.has_value(); }))
    texts.emplace_back("Both channels run through equal chains.");
  for (auto& text : texts) text = as_sentence(text);
  return texts;
}

std::vector<std::string> missing(const ReportFindings& report) {
  std::vector<std::string> texts;
  for (const auto& gap : report.gaps) texts.push_back(sentence(gap));
  for (const auto& found : report.earphones)
    for (const auto& gap : found.gaps) texts.push_back(of_earphone(report, found, sentence(gap)));
  return texts;
}

std::vector<std::string> cautions(const ReportFindings& report) {
  std::vector<std::string> texts;
  for (const auto& found : report.earphones)
    for (const auto& caution : found.cautions) texts.push_back(of_earphone(report, found, caution));
  for (auto& text : texts) text = as_sentence(text);
  texts.push_back(fmt::format(
      "Level and time together harm hearing: {} dB(A) for {} hours a day, and half the time for "
      "every 3 dB more (NIOSH 1998). Follow local rules; with any doubt ask an audiologist.",
      number_text(niosh_level_dba), number_text(niosh_minutes / 60)));
  texts.emplace_back(
      "Turn the volume down and take the earphones off before a source, a gain step or an "
      "attenuator is changed: the level may jump by all of the level change above.");
  return texts;
}

/// Notes that are not said as a caution already.
std::vector<std::string> notes(const ReportFindings& report) {
  std::vector<std::string> said;
  for (const auto& found : report.earphones)
    for (const auto& caution : found.cautions)
      append_new(said, {caution, of_earphone(report, found, caution)});
  std::vector<std::string> texts;
  for (const auto& warning : report.warnings)
    if (std::find(said.begin(), said.end(), warning) == said.end())
      texts.push_back(as_sentence(warning));
  return texts;
}

Markup list_section(const char* title, const std::vector<std::string>& texts) {
  if (texts.empty()) return {};
  return element("section", heading(2, title) + bullets(texts));
}

}  // namespace

Markup cautions_section(const ReportFindings& report) {
  return element("section", {{"class", "cautions"}},
                 heading(2, "Cautions") + bullets(cautions(report)));
}

Markup basis_sections(const ReportFindings& report) {
  return list_section("What was assumed", assumptions(report)) +
         list_section("What was not given", missing(report)) + list_section("Notes", notes(report));
}

}  // namespace ohmtilt::cli
