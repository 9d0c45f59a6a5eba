#include <tools/ohmtilt/program/command_facts.h>

namespace ohmtilt::cli {

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
