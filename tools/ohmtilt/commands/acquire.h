#pragma once
// What the parts of `acquire` share: each adds itself as a subcommand.
#include <map>
#include <optional>
#include <string>

#include <ohmtilt/curve/impedance_curve.h>
#include <ohmtilt/measure/impedance.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/acquire_cautions.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

void add_stimulus(Command& acquire, Session& session);
void add_impedance(Command& acquire, Session& session);
void add_readings(Command& acquire, Session& session);
void add_source(Command& acquire, Session& session);

/// "load|reference".
template <class Value>
std::string alternatives(const std::map<std::string, Value>& choices) {
  std::string text;
  for (const auto& [word, unused] : choices) text += (text.empty() ? "" : "|") + word;
  return text;
}

/// Adds an option for one of several words; CLI11's own map would print numbers in the help.
template <class Value>
void add_choice(Command& command, const std::string& flag, Value& value,
                const std::map<std::string, Value>& choices, const std::string& help) {
  command
      .add_option_function(
          flag,
          [&value, &choices, flag](const std::string& text) {
            const auto found = choices.find(text);
            std::vector<std::string> words;
            for (const auto& [word, unused] : choices) words.push_back(word);
            if (found == choices.end())
              throw InputError(flag + " \"" + printable(text) + "\" is not known",
                               "give " + listed(words));
            value = found->second;
          },
          help)
      ->type_name(alternatives(choices));
}

/// What the second channel sees: load or reference.
void add_wiring_option(Command& command, Wiring& wiring, const std::string& help);
/// --band alone, for commands without a grid of their own.
void add_band_option(Command& command, Band& band);

/// What a curve's file says of it besides the numbers: --title, --condition.
struct CurveLabels {
  std::optional<std::string> title, condition;
};
void add_label_options(Command& command, CurveLabels& labels);

/// The curve as the user names it. uncertainty_known false: it goes, because not known is not zero.
/// remark is added to its origin; it may be empty.
ImpedanceCurve labelled(const ImpedanceCurve& curve, const CurveLabels& labels,
                        const std::string& remark, bool uncertainty_known = true);

/// acquire_cautions as sentences of a help text.
std::string acquire_caution_footer();

/// Of a limit of error that was not given, and so counts as nothing.
inline const char* const exact_reference =
    "the reference was taken as exact: give --reference-tolerance-percent (0 if it is)";

/// A curve's range, and a table of some twenty of its points with these phases (may be empty).
std::string curve_summary(const ImpedanceCurve& curve);
std::string curve_table(const ImpedanceCurve& curve, const Array& phase_deg);

}  // namespace ohmtilt::cli
