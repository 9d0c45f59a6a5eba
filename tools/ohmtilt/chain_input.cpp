#include <ohmtilt/chain/read_chain.h>
#include <tools/ohmtilt/chain_input.h>

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

void add_against_option(CLI::App& command, std::optional<std::string>& against,
                        const std::string& what_for) {
  command.add_option("--against", against, "another chain, " + what_for)->type_name("CHAIN");
}

}  // namespace ohmtilt::cli
