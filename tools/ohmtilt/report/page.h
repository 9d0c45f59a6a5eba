#pragma once
#include <string>

#include <tools/ohmtilt/live/template.h>
#include <tools/ohmtilt/report/findings.h>

namespace ohmtilt::cli {

/// The whole report as one HTML5 page that needs nothing else: no request, and without live no
/// script. Where its figures cannot be drawn it has the rest, and says what is missing.
struct ReportPage {
  std::string html;
  std::string missing;  ///< why there are no figures; empty where there are
};
/// live: what its reader moves by themselves, below all the rest; may be null.
ReportPage report_page(const ReportFindings& report, const LivePart* live = nullptr);

/// Throws InputError for a file name that no browser takes for a page.
void check_page_name(const std::string& page);

}  // namespace ohmtilt::cli
