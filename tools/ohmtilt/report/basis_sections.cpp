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
      "Verdicts stand on steps that are common practice, without a source: a span of 0.3, 1 and 3 "
      "dB; a Q's change of 3.5, 12 and 41 % (0.3, 1 and 3 dB in the height of the resonance); a "
      "channel imbalance of 1 and 2 dB; a channel separation of 40, 25 and 15 dB."};
  append_new(texts, said_once(report, [](const EarphoneFindings& found) {
               std::vector<std::string> said;
               if (found.earphone.response)
                 said.push_back(fmt::format(
                     "the response was measured with a source of {}, which was taken out first",
                     ohm_text(found.earphone.response->source_ohm)));
               if (found.damping)
                 said.push_back("resonances come from " + model_text(found.damping->earphone));
               return said;
             }));
  if (any(report, [](const auto& found) { return found.headroom.has_value(); }))
    texts.push_back(fmt::format(
        "Loudness: programme of {} dB SPL whose peaks stand {} dB above it (common practice, no "
        "source), with the spectrum of "
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
  append_new(texts, said_once(report, [](const EarphoneFindings& found) {
               std::vector<std::string> said;
               for (const auto& gap : found.gaps) said.push_back(sentence(gap));
               return said;
             }));
  return texts;
}

/// The earphone whose target is the loudest one in dB(A); nothing without any.
const EarphoneFindings* loudest_of(const ReportFindings& report) {
  const EarphoneFindings* loudest = nullptr;
  for (const auto& found : report.earphones) {
    if (!found.headroom) continue;
    if (loudest == nullptr ||
        found.headroom->result.target.level_dba > loudest->headroom->result.target.level_dba)
      loudest = &found;
  }
  return loudest;
}

std::vector<std::string> cautions(const ReportFindings& report) {
  std::vector<std::string> texts;
  for (const auto& caution : report.cautions) texts.push_back(as_sentence(caution));
  if (const auto* loudest = loudest_of(report))
    texts.push_back(of_earphone(report, *loudest, hearing_text(loudest->headroom->result)));
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
  std::vector<std::string> said = report.cautions;
  append_new(said, report.hazards);
  for (const auto& found : report.earphones) {
    append_new(said, found.cautions);
    append_new(said, found.hazards);
  }
  std::vector<std::string> texts;
  for (const auto& warning : report.warnings)
    if (std::find(said.begin(), said.end(), warning) == said.end())
      texts.push_back(as_sentence(warning));
  return texts;
}

Markup list_part(const char* title, const std::vector<std::string>& texts) {
  return texts.empty() ? Markup() : heading(3, title) + bullets(texts);
}

}  // namespace

Markup cautions_section(const ReportFindings& report) {
  const Place place = cautions_place();
  return element("section", {{"class", "cautions"}, {"id", place.anchor}},
                 section_heading(place) + bullets(cautions(report)));
}

Markup basis_section(const ReportFindings& report) {
  const Place place = basis_place(report);
  return element("section", {{"id", place.anchor}},
                 section_heading(place) + list_part("What was assumed", assumptions(report)) +
                     list_part("What was not given", missing(report)) +
                     list_part("Notes", notes(report)));
}

}  // namespace ohmtilt::cli
