#pragma once
// CHAIN EARPHONE [--against CHAIN]: what the commands on a whole chain are asked about.
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/text/warnings.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// As the user names them.
struct ChainFiles {
  std::string chain, earphone;
  std::optional<std::string> against;
};

/// As they were read.
struct ChainInput {
  Chain chain;
  Earphone earphone;
  std::optional<Chain> against;
  std::vector<std::string> warnings;  ///< of all three, in the order of reading
};

/// Gives two chains of one title different ones (text/labels.h), and takes short labels away where
/// both have the same.
void tell_apart(Chain& first, Chain& second);

/// Throws InputError. Chains of one title are told apart.
ChainInput read_chain_input(const ChainFiles& files);

/// The same for an analysis of levels. Throws InputError that says which file is needed where the
/// earphone is a curve or a circuit, which have no sensitivity.
ChainInput read_level_input(const ChainFiles& files);

/// The chain, and its warnings added to warnings. Throws InputError.
Chain read_warned_chain(const std::string& text, std::vector<std::string>& warnings);

/// The arguments `chain` and `earphone`; the help says which file the earphone is.
void add_chain_arguments(Command& command, ChainFiles& files, const std::string& earphone);

/// The option --against; what_for ends its help's sentence.
void add_against_option(Command& command, std::optional<std::string>& against,
                        const std::string& what_for);

/// The option --limit-db, a finite number of decibels; help says what it ends with 1 for.
void add_limit_option(Command& command, std::optional<double>& limit_db, const std::string& help);
/// Ends with 1, and says why: "It exceeds the limit: 11 dB of headroom, at least 20 dB asked."
void exceed(Answer& answer, const std::string& how);

/// What a bias voltage of the sources does to the earphone, among the answer's cautions.
void add_bias_cautions(Answer& answer, const std::vector<TheveninSource>& sources,
                       const Earphone& earphone);
void add_bias_cautions(Answer& answer, const ChainInput& input);

/// Adds what all does not hold yet: "with Attenuator off, the amplifier can give ...".
void append_of_other(std::vector<std::string>& all, const Chain& other,
                     const std::vector<std::string>& warnings);

/// One analysis of a chain on an earphone, and of the chain to compare with where there is one.
template <class Result, class How>
struct Asked {
  ChainInput input;
  How how;
  Result result;
  std::optional<Result> against;

  /// Of the files and of the analyses, each once; what is true of the other chain only names it.
  std::vector<std::string> warnings() const {
    std::vector<std::string> all = input.warnings;
    append_new(all, result.warnings);
    if (!against) return all;
    append_of_other(all, *input.against, against->warnings);
    return all;
  }
  /// Likewise, of analyses that have cautions.
  std::vector<std::string> cautions() const {
    std::vector<std::string> all = result.cautions;
    if (against) append_of_other(all, *input.against, against->cautions);
    return all;
  }
};

/// Asks analysis(chain, earphone, how). Throws as it does.
template <class Analysis, class How>
auto ask(ChainInput input, const How& how, const Analysis& analysis) {
  auto result = analysis(input.chain, input.earphone, how);
  using Found = Asked<decltype(result), How>;
  Found found{std::move(input), how, std::move(result), {}};
  if (found.input.against)
    found.against = analysis(*found.input.against, found.input.earphone, how);
  return found;
}

}  // namespace ohmtilt::cli
