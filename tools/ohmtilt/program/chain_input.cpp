#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <algorithm>

namespace ohmtilt::cli {

Chain read_warned_chain(const std::string& text, std::vector<std::string>& warnings) {
  auto read = read_any_chain(text);
  append_new(warnings, read.warnings);
  return std::move(read.value);
}

ChainInput read_chain_input(const ChainFiles& files) {
  std::vector<std::string> warnings;
  Chain chain = read_warned_chain(files.chain, warnings);
  Earphone earphone = read_earphone(files.earphone);
  append_new(warnings, earphone.warnings);
  ChainInput input{std::move(chain), std::move(earphone), {}, {}};
  if (files.against) input.against = read_warned_chain(*files.against, warnings);
  input.warnings = std::move(warnings);
  return input;
}

void add_against_option(Command& command, std::optional<std::string>& against,
                        const std::string& what_for) {
  command.add_option("--against", against, "another chain, " + what_for)->type_name("CHAIN");
}

void append_of_other(std::vector<std::string>& all, const Chain& other,
                     const std::vector<std::string>& warnings) {
  const std::string with_other = "with " + printable(other.title()) + ", ";
  for (const auto& warning : warnings)
    if (std::find(all.begin(), all.end(), warning) == all.end())
      append_new(all, {with_other + warning});
}

void add_limit_option(Command& command, std::optional<double>& limit_db, const std::string& help) {
  command
      .add_option_function(
          "--limit-db",
          [&limit_db](const std::string& text) {
            limit_db = parse_flag_number(text, "--limit-db");
          },
          help)
      ->type_name("DB");
}

void exceed(Answer& answer, const std::string& how) {
  answer.limit_exceeded = true;
  answer.text += "It exceeds the limit: " + how + ".\n";
}

}  // namespace ohmtilt::cli
