#pragma once
// The parts of a report in their order.
#include <tools/ohmtilt/report/figures.h>

namespace ohmtilt::cli {

/// A bias voltage, above everything; nothing without one.
Markup hazards_section(const ReportFindings& report);
/// Links to all sections.
Markup contents(const ReportFindings& report);
Markup summary_section(const ReportFindings& report, const ReportFigures& figures);
Markup cautions_section(const ReportFindings& report);
Markup chain_section(const ReportFindings& report, const ReportFigures& figures);
Markup earphone_section(const ReportFindings& report, std::size_t index,
                        const ReportFigures& figures);
/// What was assumed, what was not given, and the notes of the analyses.
Markup basis_section(const ReportFindings& report);

/// A section of the page: its number, where it is, and its title.
struct Place {
  std::size_t number = 0;
  std::string anchor, title;
};
Place summary_place();
Place cautions_place();
Place chain_place();
Place earphone_place(const ReportFindings& report, std::size_t index);
Place basis_place(const ReportFindings& report);

/// "2 Cautions", which leads back to that anchor.
Markup section_heading(const Place& place, const std::string& back = "contents");
/// A link there; in print the section's number stands behind it.
Markup link_to(const Place& place);
/// Where the row of an earphone in the table of costs and benefits is.
std::string row_anchor(std::size_t index);

}  // namespace ohmtilt::cli
