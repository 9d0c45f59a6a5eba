#include <fmt/format.h>

#include <ohmtilt/base/text.h>
#include <tools/ohmtilt/wording.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt::cli {

std::string db_text(double db) { return fmt::format("{:.2f} dB", std::abs(db) < 0.005 ? 0.0 : db); }

std::string signed_db(double db) {
  return std::abs(db) < 0.005 ? "0.00 dB" : fmt::format("{:+.2f} dB", db);
}

std::string hz_text(double hz) {
  return hz < 1000 ? fmt::format("{:.3g} Hz", hz) : fmt::format("{:.3g} kHz", hz / 1000);
}

std::string significant(double value, int figures) {
  const std::string text = fmt::format("{:.{}g}", value, figures);
  if (text.find("e+") == std::string::npos || std::abs(value) >= 1e7) return text;
  const double step = std::pow(10.0, std::floor(std::log10(std::abs(value))) - figures + 1);
  return fmt::format("{:.0f}", std::round(value / step) * step);
}

std::string ohm_text(double ohm) { return significant(ohm) + " ohm"; }

std::string percent_text(double percent) {
  if (percent > 0 && percent < 0.001) return "less than 0.001 %";
  return percent < 10 ? fmt::format("{:.2g} %", percent) : fmt::format("{:.0f} %", percent);
}

std::string open_db_text(double db) {
  return db < 0.01 ? "less than 0.01 dB" : fmt::format("{:.2g} dB", db);
}

std::string aligned(const Rows& rows) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], row[i].size());
  }
  std::string text;
  for (const auto& row : rows) {
    std::string line = "  ";
    for (std::size_t i = 0; i < row.size(); ++i)
      line += i == 0 ? fmt::format("{:<{}}", row[i], widths[i])
                     : fmt::format("  {:>{}}", row[i], widths[i]);
    text += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

namespace {

const Extreme& largest_change(const Deviation& d) {
  return d.rise.db >= -d.fall.db ? d.rise : d.fall;
}

}  // namespace

const std::vector<SpanStep>& span_steps() {
  static const std::vector<SpanStep> steps{
      {0.3, "not heard", "too little to be heard"},
      {1, "side by side", "small: at most just audible side by side"},
      {3, "tonal balance", "audible as a change of tonal balance"},
      {INFINITY, "another earphone", "a different earphone, tonally"}};
  return steps;
}

const SpanStep& span_step(double span_db) {
  const auto& steps = span_steps();
  return *std::find_if(steps.begin(), steps.end() - 1,
                       [&](const SpanStep& step) { return span_db < step.below_db; });
}

std::string headline(const std::string& from_label, const std::vector<ComparedSource>& cases) {
  if (cases.empty()) return from_label;
  const auto& worst = *std::max_element(
      cases.begin(), cases.end(),
      [](const auto& a, const auto& b) { return a.deviation.span_db < b.deviation.span_db; });
  const Extreme& change = largest_change(worst.deviation);
  return fmt::format("{} instead of {}: {:+.1f} dB at {}", worst.label, from_label, change.db,
                     hz_text(change.hz));
}

namespace {

/// Without an anchor the whole response may rise, or fall.
std::string rise_and_fall(const Deviation& d) {
  const bool rises = d.fall.db > 0, falls = d.rise.db < 0;
  if (!rises && !falls)
    return fmt::format("rises by {} at {} and falls by {} at {}", db_text(d.rise.db),
                       hz_text(d.rise.hz), db_text(-d.fall.db), hz_text(d.fall.hz));
  const std::string verb = rises ? "rises" : "falls";
  const Extreme& least = rises ? d.fall : d.rise;
  const Extreme& most = rises ? d.rise : d.fall;
  const std::string least_text = db_text(std::abs(least.db)),
                    most_text = db_text(std::abs(most.db));
  if (least_text == most_text) return verb + " by " + most_text + " everywhere";
  return fmt::format("{} everywhere, by {} at {} up to {} at {}", verb, least_text,
                     hz_text(least.hz), most_text, hz_text(most.hz));
}

}  // namespace

std::string conclusion(const ComparedSource& compared) {
  const Deviation& d = compared.deviation;
  return fmt::format("The response {}: a span of {}, {}.", rise_and_fall(d), db_text(d.span_db),
                     span_step(d.span_db).weight);
}

std::string anchor_text(const Anchor& anchor) {
  if (const auto* one = std::get_if<AnchorFrequency>(&anchor))
    return "equal at " + number_text(one->hz) + " Hz";
  if (const auto* band = std::get_if<AnchorBand>(&anchor))
    return "equal on average from " + number_text(band->low_hz) + " to " +
           number_text(band->high_hz) + " Hz";
  return "not made equal anywhere";
}

}  // namespace ohmtilt::cli
