#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/command_facts.h>
#include <sstream>

namespace ohmtilt::cli {
namespace {

/// CLI11's names of types, in words.
std::string value_name(const std::string& type) {
  if (type == "TEXT") return "FILE";
  if (type == "FLOAT") return "NUMBER";
  if (type == "INT" || type == "UINT") return "N";
  return type;
}

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::istringstream stream(text);
  for (std::string part; std::getline(stream, part, at);) parts.push_back(part);
  return parts;
}

bool names_file(const std::string& value) {
  return value.starts_with("FILE") || value == "SOURCE" || value == "CHAIN" || value == "FOLDER";
}

OptionFacts option_facts(const CLI::Option& option) {
  OptionFacts facts;
  for (const auto& name : option.get_snames()) facts.flags.push_back("-" + name);
  for (const auto& name : option.get_lnames()) facts.flags.push_back("--" + name);
  if (option.get_positional()) facts.flags = {option.get_name(true, false)};
  if (option.get_type_size() != 0) facts.value = value_name(option.get_type_name());
  if (facts.value.find('|') != std::string::npos) facts.choices = split(facts.value, '|');
  facts.description = option.get_description();
  facts.takes_file = names_file(facts.value);
  facts.many = option.get_expected_max() == CLI::detail::expected_max_vector_size;
  facts.required = option.get_required();
  return facts;
}

void read_footer(const std::string& footer, CommandFacts& facts) {
  for (const auto& line : split(footer, '\n')) {
    const auto command = line.find(":  ohmtilt ");
    if (line.starts_with("Example") && command != std::string::npos)
      facts.examples.push_back({line.substr(0, command), line.substr(command + 3)});
    else if (!trimmed(line).empty())
      facts.notes.push_back(line);
  }
}

}  // namespace

CommandFacts command_facts(const CLI::App& app, const std::string& path) {
  CommandFacts facts;
  facts.path = path;
  facts.name = app.get_name();
  facts.group = app.get_group();
  facts.description = app.get_description();
  read_footer(app.get_footer(), facts);
  for (const CLI::Option* option : app.get_options())
    if (!option->get_group().empty())
      (option->get_positional() ? facts.arguments : facts.options).push_back(option_facts(*option));
  for (const CLI::App* command : app.get_subcommands({}))
    facts.commands.push_back(command_facts(*command, path + " " + command->get_name()));
  return facts;
}

std::string usage(const CommandFacts& command) {
  std::string text = command.path;
  for (const auto& option : command.options)
    if (option.required) text += " " + invocation(option);
  if (!command.options.empty()) text += " [OPTIONS]";
  for (const auto& argument : command.arguments) {
    const std::string name = argument.flags[0] + (argument.many ? "..." : "");
    text += argument.required ? " " + name : " [" + name + "]";
  }
  if (!command.commands.empty()) text += " COMMAND";
  return text;
}

std::string invocation(const OptionFacts& option) {
  std::string text;
  for (const auto& flag : option.flags) text += (text.empty() ? "" : ",") + flag;
  const bool argument = !option.flags[0].starts_with("-");
  if (!option.value.empty() && !argument) text += " " + option.value;
  return option.many ? text + " ..." : text;
}

}  // namespace ohmtilt::cli
