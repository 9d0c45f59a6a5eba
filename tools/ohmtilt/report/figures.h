#pragma once
// The figures of a report, drawn all at once.
#include <map>
#include <string>

#include <tools/ohmtilt/report/findings.h>
#include <tools/ohmtilt/report/markup.h>

namespace ohmtilt::cli {

/// <figure> elements by name: "overview", "chain", and for the earphone of index 0 "1-response",
/// "1-hiss", "1-volume", "1-level", "1-decay", "1-channels". What was not worked out is not there.
/// All but the first two and the responses are as wide as half the page, or a phone.
class ReportFigures {
 public:
  explicit ReportFigures(const ReportFindings& report);
  /// Nothing where there is none.
  Markup of(const std::string& name) const;
  /// Why there are no figures, where gnuplot is missing or fails; empty otherwise.
  const std::string& missing() const { return missing_; }

 private:
  void draw(const ReportFindings& report);

  std::string missing_;
  std::map<std::string, Markup> figures_;
};

/// "1-response": the name of that figure of the earphone of that index.
std::string figure_name(std::size_t earphone, const char* what);

/// A scale of how much a span matters, with the span marked on it.
Markup span_scale(double span_db);

}  // namespace ohmtilt::cli
