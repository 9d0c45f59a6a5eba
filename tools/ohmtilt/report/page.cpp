#include <fmt/format.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/base64.h>
#include <tools/ohmtilt/report/page.h>
#include <tools/ohmtilt/report/sections.h>
#include <tools/ohmtilt/report/style.h>
#include <filesystem>
#include <string_view>

namespace ohmtilt::cli {
namespace {

/// The style sheet's hash as a content security policy writes it: base 64 of its bytes.
std::string style_hash() {
  const std::string_view hex = report_style_sha256;
  std::string bytes;
  for (std::size_t i = 0; i < hex.size(); i += 2)
    bytes += static_cast<char>(std::stoi(std::string(hex.substr(i, 2)), nullptr, 16));
  return base64(bytes);
}

std::string compared(const ReportFindings& report) {
  return fmt::format("{} instead of {}", printable(report.chain.title()),
                     printable(report.against.title()));
}

std::string title_of(const ReportFindings& report) {
  return report.how.title.empty() ? compared(report) : printable(report.how.title);
}

/// An empty element; attributes as written here.
Markup meta(const std::string& attributes) {
  return Markup::written_here("<meta " + attributes + ">");
}

std::string policy(const LivePart* live) {
  const std::string scripts =
      live ? fmt::format("script-src {}; img-src blob:; ", live->scripts) : std::string();
  return fmt::format(
      "default-src 'none'; {}style-src 'sha256-{}'{}; base-uri 'none'; form-action 'none'", scripts,
      style_hash(), live ? " " + live->styles : std::string());
}

Markup head(const ReportFindings& report, const LivePart* live) {
  return element(
      "head", meta("charset=\"utf-8\"") +
                  meta("http-equiv=\"Content-Security-Policy\" content=\"" + policy(live) + "\"") +
                  meta("name=\"viewport\" content=\"width=device-width, initial-scale=1\"") +
                  meta("name=\"color-scheme\" content=\"light dark\"") +
                  meta("name=\"generator\" content=\"ohmtilt " OHMTILT_VERSION "\"") +
                  meta("name=\"referrer\" content=\"no-referrer\"") +
                  element("title", words(title_of(report))) +
                  element("style", Markup::written_here(report_style)));
}

/// "Attenuator on, compared with no attenuation; 6 earphones."
std::string subject(const ReportFindings& report) {
  const auto count = report.earphones.size();
  return fmt::format("{}, compared with {}; {}.", printable(report.chain.title()),
                     printable(report.against.title()),
                     count == 1 ? printable(report.earphones.front().title())
                                : fmt::format("{} earphones", count));
}

Markup banner(const ReportFindings& report) {
  Markup date;
  if (!report.how.date.empty())
    date = element("p", {{"class", "date"}}, words(printable(report.how.date)));
  return element("header", hazards_section(report) + heading(1, title_of(report)) + date +
                               paragraph(subject(report)) + contents(report));
}

Markup missing_figures(const ReportFigures& figures) {
  if (figures.missing().empty()) return {};
  return element("section", heading(2, "The figures are missing") +
                                paragraph("All numbers are here; the figures could not be drawn: " +
                                          figures.missing() + "."));
}

/// Below what needs no script.
Markup live_section(const LivePart* live) {
  if (!live) return {};
  constexpr const char* title = "Move the source yourself";
  return element("section", {{"id", "live-part"}, {"aria-label", title}},
                 heading(2, title) +
                     paragraph("The same library, compiled for the browser, in this page: nothing "
                               "is sent anywhere. It needs script; everything above does not.") +
                     live->part);
}

Markup footer() {
  return element("footer", paragraph("Computed from the circuit by ohmtilt " OHMTILT_VERSION
                                     ". The numbers behind each figure come from the commands "
                                     "deviation, damping, headroom, hiss and crosstalk."));
}

}  // namespace

void check_page_name(const std::string& page) {
  const std::string ending = lower(std::filesystem::path(page).extension().string());
  if (ending != ".html" && ending != ".htm")
    throw InputError("\"" + printable(page) + "\" is not allowed for -o",
                     "end it in .html or .htm; a browser prints it to PDF");
}

ReportPage report_page(const ReportFindings& report, const LivePart* live) {
  const ReportFigures figures(report);
  Markup main = summary_section(report, figures) + missing_figures(figures) +
                cautions_section(report) + chain_section(report, figures);
  for (std::size_t i = 0; i < report.earphones.size(); ++i)
    main += earphone_section(report, i, figures);
  main += basis_section(report);
  const Markup body =
      element("body", banner(report) + element("main", main) + live_section(live) + footer());
  return {"<!DOCTYPE html>\n" +
              element("html", {{"lang", "en"}}, head(report, live) + body).html() + "\n",
          figures.missing()};
}

}  // namespace ohmtilt::cli
