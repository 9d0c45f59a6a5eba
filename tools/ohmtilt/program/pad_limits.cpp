#include <fmt/format.h>

#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/pad_limits.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {
namespace {

/// The value with as many digits as tell it from what is allowed.
std::string value_text(double value, double allowed) {
  int figures = 3;
  while (figures < 17 && significant(value, figures) == significant(allowed, figures)) ++figures;
  return significant(value, figures);
}

std::string limit_text(const LimitExcess& excess) {
  const auto limited = [&](const char* what, double scale, const char* bound, const char* unit) {
    return fmt::format("{} {} {}, {} {} {}", what,
                       value_text(scale * excess.value, scale * excess.allowed), unit, bound,
                       significant(scale * excess.allowed, 6), unit);
  };
  const auto at_most = [&](const char* what, double scale, const char* unit) {
    return limited(what, scale, "at most", unit);
  };
  switch (excess.limit) {
    case PadLimit::span:
      return at_most("span", 1, "dB");
    case PadLimit::output:
      return at_most("output impedance", 1, "ohm");
    case PadLimit::input:
      return limited("load to the amplifier", 1, "at least", "ohm");
    case PadLimit::dissipation:
      return at_most("heat in a resistor", 1, "mW");
    case PadLimit::noise:
      return at_most("noise", 1e6, "uV");
    case PadLimit::parts:
      return fmt::format("{} resistors, at most {}", excess.value, excess.allowed);
  }
  return {};
}

}  // namespace

std::vector<std::string> limit_texts(const std::vector<LimitExcess>& excesses) {
  std::vector<std::string> texts;
  for (const auto& excess : excesses) texts.push_back(limit_text(excess));
  return texts;
}

std::vector<std::string> limit_texts(const std::vector<SwitchExcess>& excesses) {
  std::vector<std::string> texts;
  for (const auto& [excess, asked_db] : excesses)
    texts.push_back(limit_text(excess) +
                    (asked_db ? " (step of " + number_text(*asked_db) + " dB)" : ""));
  return texts;
}

std::string said(const std::vector<std::string>& texts) {
  std::string all;
  for (const auto& text : texts) all += (all.empty() ? "" : "; ") + text;
  return all;
}

}  // namespace ohmtilt::cli
