#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/report/sections.h>

#include <cctype>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t first_earphone = 4;
constexpr std::size_t most_in_contents = 12;  // the table has them all

Markup entry(const Place& place) {
  return element(
      "li", element("span", words(std::to_string(place.number))) + words(" ") + link_to(place));
}

}  // namespace

Place summary_place() { return {1, "answer", "Costs and benefits"}; }
Place cautions_place() { return {2, "cautions", "Cautions"}; }
Place chain_place() { return {3, "chain", "The amplifier and what follows it"}; }

Place earphone_place(const ReportFindings& report, std::size_t index) {
  return {first_earphone + index, fmt::format("earphone-{}", index + 1),
          printable(report.earphones[index].title())};
}

Place basis_place(const ReportFindings& report) {
  return {first_earphone + report.earphones.size(), "basis", "Assumed, not given, noted"};
}

std::string row_anchor(std::size_t index) { return fmt::format("row-{}", index + 1); }

Markup section_heading(const Place& place, const std::string& back) {
  return element("h2", element("a", {{"class", "back"}, {"href", "#" + back}},
                               words(fmt::format("{} {}", place.number, place.title))));
}

Markup link_to(const Place& place) {
  return element(
      "a",
      {{"href", "#" + place.anchor}, {"data-section", fmt::format("section {}", place.number)}},
      words(place.title));
}

Markup contents(const ReportFindings& report) {
  Markup list = entry(summary_place()) + entry(cautions_place()) + entry(chain_place());
  if (report.earphones.size() <= most_in_contents)
    for (std::size_t i = 0; i < report.earphones.size(); ++i)
      list += entry(earphone_place(report, i));
  else
    list += element(
        "li", words(fmt::format("{} earphones: the table links to them", report.earphones.size())));
  list += entry(basis_place(report));
  return element("nav", {{"id", "contents"}, {"aria-label", "Contents"}}, element("ol", list));
}

Markup hazards_section(const ReportFindings& report) {
  Markup texts;
  for (const auto& hazard : report.hazards) {
    std::string text = hazard;
    text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
    texts += paragraph(text + ".");
  }
  if (texts.empty()) return {};
  return element("div", {{"class", "hazard"}, {"role", "alert"}},
                 element("p", element("strong", words("Do not connect: bias voltage"))) + texts);
}

}  // namespace ohmtilt::cli
