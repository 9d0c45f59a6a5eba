#pragma once
// The parts of a report in their order.
#include <tools/ohmtilt/report/figures.h>

namespace ohmtilt::cli {

Markup summary_section(const ReportFindings& report);
Markup cautions_section(const ReportFindings& report);
Markup chain_section(const ReportFindings& report, const ReportFigures& figures);
Markup earphone_section(const ReportFindings& report, std::size_t index,
                        const ReportFigures& figures);
/// What was assumed, what was not given, and the notes of the analyses.
Markup basis_sections(const ReportFindings& report);

/// Where the section of an earphone is: "earphone-1".
std::string earphone_anchor(std::size_t index);

}  // namespace ohmtilt::cli
