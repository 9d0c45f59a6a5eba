#pragma once
#include <string>

#include <tools/ohmtilt/report/findings.h>

namespace ohmtilt::cli {

/// The whole report as one HTML5 page that needs nothing else: no script, no request. Draws its
/// figures; throws OutputError where that fails.
std::string report_page(const ReportFindings& report);

}  // namespace ohmtilt::cli
