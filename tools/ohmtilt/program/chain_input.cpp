#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/labels.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <algorithm>

namespace ohmtilt::cli {

Chain read_warned_chain(const std::string& text, std::vector<std::string>& warnings) {
  auto read = read_any_chain(text);
  append_new(warnings, read.warnings);
  return std::move(read.value);
}

namespace {

Chain named(const Chain& chain, const std::string& title, const std::string& label) {
  return Chain(title, chain.source(), chain.stages(), chain.file()).with_label(label);
}

}  // namespace

void tell_apart(Chain& first, Chain& second) {
  const bool same_name = first.short_name() == second.short_name();
  const auto titles =
      distinct_labels({first.title(), second.title()}, {first.file(), second.file()});
  if (!same_name && titles[0] == first.title() && titles[1] == second.title()) return;
  first = named(first, titles[0], same_name ? "" : first.label());
  second = named(second, titles[1], same_name ? "" : second.label());
}

ChainInput read_chain_input(const ChainFiles& files) {
  std::vector<std::string> warnings;
  Chain chain = read_warned_chain(files.chain, warnings);
  Earphone earphone = read_earphone(files.earphone);
  append_new(warnings, earphone.warnings);
  ChainInput input{std::move(chain), std::move(earphone), {}, {}};
  if (files.against) input.against = read_warned_chain(*files.against, warnings);
  if (input.against) tell_apart(input.chain, *input.against);
  input.warnings = std::move(warnings);
  return input;
}

namespace {

/// "planar.csv" becomes "planar.earphone.toml".
std::string earphone_file_name(const std::filesystem::path& file) {
  return printable(file.filename().stem().stem().string()) + ".earphone.toml";
}

}  // namespace

ChainInput read_level_input(const ChainFiles& files) {
  ChainInput input = read_chain_input(files);
  if (input.earphone.sensitivity) return input;
  const bool is_circuit = circuit_table(files.earphone).has_value();
  if (!is_toml_name(files.earphone) || is_circuit)
    throw InputError(
        printable(files.earphone) + " is a " + (is_circuit ? "circuit" : "curve") +
            ", which has no sensitivity",
        "give an earphone file that names it, such as " + earphone_file_name(files.earphone));
  return input;
}

void add_chain_arguments(Command& command, ChainFiles& files, const std::string& earphone) {
  command.add_option("chain", files.chain, "chain file")->required();
  command.add_option("earphone", files.earphone, earphone)->required();
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
  command.add_number("--limit-db", limit_db, {.unit = "DB"}, help);
}

void add_bias_cautions(Answer& answer, const std::vector<TheveninSource>& sources,
                       const Earphone& earphone) {
  append_new(answer.cautions, bias_cautions(sources, earphone));
}

void add_bias_cautions(Answer& answer, const ChainInput& input) {
  std::vector<TheveninSource> sources{thevenin_source(input.chain)};
  if (input.against) sources.push_back(thevenin_source(*input.against));
  add_bias_cautions(answer, sources, input.earphone);
}

void exceed(Answer& answer, const std::string& how) {
  answer.limit_exceeded = true;
  answer.text += "It exceeds the limit: " + how + ".\n";
}

}  // namespace ohmtilt::cli
