#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <plots/names.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt::cli {

std::string db_text(double db) { return fmt::format("{:.2f} dB", std::abs(db) < 0.005 ? 0.0 : db); }

std::string signed_db(double db) {
  return std::abs(db) < 0.005 ? "0.00 dB" : fmt::format("{:+.2f} dB", db);
}

// 0.0 added makes -0 a 0.
double tenths(double db) { return std::round(10 * db) / 10 + 0.0; }

std::string ohm_text(double ohm) { return significant(ohm) + " ohm"; }

std::string with_uncertainty(double value, double half_width) {
  if (!(half_width > 0)) return significant(value);
  const double decimals = std::clamp(1 - std::floor(std::log10(half_width)), 0.0, 12.0);
  return fmt::format("{:.{}f} \u00b1 {}", value, static_cast<int>(decimals),
                     fmt::format("{:.{}f}", half_width, static_cast<int>(decimals)));
}

std::string highest_ohm_text(double ohm, double from_ohm) {
  std::string text = significant_down(ohm, 2);
  for (int figures = 3; *parse_number(text) < from_ohm && figures <= 17; ++figures)
    text = significant_down(ohm, figures);
  return text + " ohm";
}

std::string beyond_text(double value, double limit, int decimals) {
  const auto lies_beyond = [&](const std::string& text) {
    return value > limit ? *parse_number(text) > limit : *parse_number(text) < limit;
  };
  std::string text = fmt::format("{:.{}f}", value, decimals);
  while (!lies_beyond(text) && decimals < 17) text = fmt::format("{:.{}f}", value, ++decimals);
  return text;
}

std::string exceeds_text(const std::string& what, double db, double limit_db) {
  return fmt::format("{} of {} dB exceeds the limit of {} dB", what, beyond_text(db, limit_db, 2),
                     number_text(limit_db));
}

std::string percent_text(double percent) {
  if (percent > 0 && percent < 0.001) return "less than 0.001 %";
  return percent < 10 ? fmt::format("{:.2g} %", percent) : fmt::format("{:.0f} %", percent);
}

std::string plus_minus_db(double db) {
  return db < 0.01 ? "less than ±0.01 dB" : fmt::format("±{:.2g} dB", db);
}

namespace {

std::size_t places(const std::string& text) {
  return static_cast<std::size_t>(std::lround(plots::columns(text)));
}

std::string blanks(std::size_t width, const std::string& text) {
  return std::string(width - places(text), ' ');
}

}  // namespace

std::string aligned(const Rows& rows) {
  std::vector<std::size_t> widths;
  for (const auto& row : rows) {
    widths.resize(std::max(widths.size(), row.size()));
    for (std::size_t i = 0; i < row.size(); ++i) widths[i] = std::max(widths[i], places(row[i]));
  }
  std::string text;
  for (const auto& row : rows) {
    std::string line = "  ";
    for (std::size_t i = 0; i < row.size(); ++i)
      line +=
          i == 0 ? row[i] + blanks(widths[i], row[i]) : "  " + blanks(widths[i], row[i]) + row[i];
    text += line.substr(0, line.find_last_not_of(' ') + 1) + "\n";
  }
  return text;
}

namespace {

std::string fit_to_print(const std::string& name) {
  constexpr std::size_t most_bytes = 4000;
  return valid_utf8(printable(name, most_bytes));
}

}  // namespace

std::string short_name(const std::string& name, double columns) {
  return plots::shortened(fit_to_print(name), columns, plots::columns);
}

std::vector<std::string> short_names(const std::vector<std::string>& names, double columns) {
  std::vector<std::string> printed;
  for (const auto& name : names) printed.push_back(fit_to_print(name));
  return plots::shortened_apart(printed, columns, plots::columns);
}

std::string short_name(const std::string& name, const std::string& remark, double columns) {
  constexpr double least = 8;
  const std::string end = short_name(remark, columns - least);
  return short_name(name, columns - plots::columns(end)) + end;
}

namespace {

const Extreme& largest_change(const Deviation& d) {
  return d.rise.db >= -d.fall.db ? d.rise : d.fall;
}

}  // namespace

const std::vector<SpanStep>& span_steps() {
  static const std::vector<SpanStep> steps{
      {0.3, "inaudible", "probably inaudible"},
      {1, "just audible", "small: at most just audible in direct comparison"},
      {3, "tonal balance", "audible as a change of tonal balance"},
      {INFINITY, "character", "a clear change of character"}};
  return steps;
}

const SpanStep& span_step(double span_db) {
  const auto& steps = span_steps();
  return *std::find_if(steps.begin(), steps.end() - 1,
                       [&](const SpanStep& step) { return span_db < step.below_db; });
}

namespace {

/// Both names in that room, each at least in half of it; two that differ still do.
std::pair<std::string, std::string> fitted(const std::string& first, const std::string& second,
                                           double room_em) {
  const double of_first = plots::width_em(first), of_second = plots::width_em(second);
  if (of_first + of_second <= room_em) return {first, second};
  if (std::min(of_first, of_second) > room_em / 2) {
    const auto names = plots::shortened_apart({first, second}, room_em / 2);
    return {names[0], names[1]};
  }
  if (of_first > of_second) return {plots::shortened(first, room_em - of_second), second};
  return {first, plots::shortened(second, room_em - of_first)};
}

}  // namespace

std::pair<std::string, std::string> title_names(const std::string& first,
                                                const std::string& second) {
  return fitted(first, second, 54);  // of two lines of about 39 em; the rest is for the number
}

std::string subtitle(const std::string& chain, const std::string& earphone) {
  const auto [first, second] = fitted(earphone, chain, 50);  // of one line of 54 em
  return first + " behind " + second;
}

std::string headline(const std::string& from_label, const std::vector<ComparedSource>& cases) {
  if (cases.empty()) return from_label;
  const auto& worst = *std::max_element(
      cases.begin(), cases.end(),
      [](const auto& a, const auto& b) { return a.deviation.span_db < b.deviation.span_db; });
  const Extreme& change = largest_change(worst.deviation);
  const auto [to, from] = title_names(worst.label, from_label);
  return fmt::format("{} instead of {}: {} at {}", to, from, signed_db(change.db),
                     hz_text(change.hz));
}

namespace {

/// "rises by 0.09 dB at 1.25 kHz" or "rises nowhere".
std::string change_text(const char* verb, double db, double hz) {
  return db < least_said_db ? fmt::format("{} nowhere", verb)
                            : fmt::format("{} by {} at {}", verb, db_text(db), hz_text(hz));
}

std::string everywhere_text(const char* verb, const Extreme& least, const Extreme& most) {
  const std::string least_text = db_text(std::abs(least.db)),
                    most_text = db_text(std::abs(most.db));
  if (least_text == most_text) return fmt::format("{} by {} everywhere", verb, most_text);
  return fmt::format("{} everywhere, by {} at {} up to {} at {}", verb, least_text,
                     hz_text(least.hz), most_text, hz_text(most.hz));
}

/// Without an anchor the whole response may rise, or fall.
std::string rise_and_fall(const Deviation& d) {
  if (d.fall.db >= least_said_db) return everywhere_text("rises", d.fall, d.rise);
  if (d.rise.db <= -least_said_db) return everywhere_text("falls", d.rise, d.fall);
  return change_text("rises", d.rise.db, d.rise.hz) + " and " +
         change_text("falls", -d.fall.db, d.fall.hz);
}

}  // namespace

std::string conclusion(const ComparedSource& compared) {
  const Deviation& d = compared.deviation;
  const std::string span =
      fmt::format("a span of {}, {}.", db_text(d.span_db), span_step(d.span_db).weight);
  if (std::abs(d.rise.db) < least_said_db && std::abs(d.fall.db) < least_said_db)
    return "The response changes nowhere by as much as 0.01 dB: " + span;
  return fmt::format("The response {}: {}", rise_and_fall(d), span);
}

std::vector<std::string> extreme_cells(const Extreme& extreme) {
  if (std::abs(extreme.db) < least_said_db) return {"none"};
  return {signed_db(extreme.db), "at " + hz_text(extreme.hz)};
}

std::string phase_text(PhaseOrigin phase) {
  if (phase == PhaseOrigin::measured) return "measured phase";
  return phase == PhaseOrigin::minimum ? "minimum phase" : "phase from the circuit";
}

std::string all_earphones(std::size_t count) {
  if (count == 1) return "the earphone";
  return count == 2 ? "both earphones" : fmt::format("all {} earphones", count);
}

namespace {

/// Exactly, in hertz or kilohertz.
std::string exact_hz_text(double hz) {
  return hz < 1000 ? number_text(hz) + " Hz" : number_text(hz / 1000) + " kHz";
}

}  // namespace

std::string anchor_place(const Anchor& anchor) {
  if (const auto* one = std::get_if<AnchorFrequency>(&anchor))
    return "at " + exact_hz_text(one->hz);
  if (const auto* band = std::get_if<AnchorBand>(&anchor))
    return "on average from " + exact_hz_text(band->low_hz) + " to " + exact_hz_text(band->high_hz);
  return "";
}

std::string anchor_text(const Anchor& anchor) {
  const std::string place = anchor_place(anchor);
  return place.empty() ? "not normalised" : "normalised " + place;
}

std::string verdict_note() {
  return "Verdict by common practice, no source: inaudible below 0.3 dB, just audible below 1 dB,\n"
         "tonal balance below 3 dB.";
}

}  // namespace ohmtilt::cli
