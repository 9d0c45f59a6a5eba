#include <tools/ohmtilt/program/completion.h>
#include <algorithm>

namespace ohmtilt::cli {
namespace {

/// For a text between single quotes, inside a specification where colon and brackets mean
/// something.
std::string zsh_quoted(const std::string& text) {
  std::string result;
  for (const char c : text) {
    if (c == '\'')
      result += "'\\''";
    else if (c == ':' || c == '[' || c == ']' || c == '\\')
      result += std::string("\\") + c;
    else
      result += c;
  }
  return result;
}

std::string function_name(const CommandFacts& command) {
  std::string name = "_" + command.path;
  std::replace(name.begin(), name.end(), ' ', '_');
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
}

std::string action(const OptionFacts& option) {
  if (option.takes_file) return "_files";
  std::string text = "(";
  for (const auto& choice : option.choices) text += (text == "(" ? "" : " ") + choice;
  return option.choices.empty() ? " " : text + ")";
}

std::string option_line(const OptionFacts& option, const std::string& flag) {
  const bool takes = !option.value.empty();
  return std::string("    '") + (option.many ? "*" : "") + flag + (takes ? "=" : "") + "[" +
         zsh_quoted(option.description) + "]" +
         (takes ? ":" + zsh_quoted(option.value) + ":" + action(option) : "") + "'";
}

std::string argument_lines(const CommandFacts& command) {
  std::string text;
  for (const auto& argument : command.arguments)
    text += std::string(" \\\n    '") + (argument.many ? "*" : "") + ":" +
            zsh_quoted(argument.description) + ":" + action(argument) + "'";
  return text;
}

std::string option_lines(const CommandFacts& command) {
  std::string text;
  for (const auto& option : command.options)
    for (const auto& flag : option.flags) text += " \\\n" + option_line(option, flag);
  return text;
}

std::string leaf_function(const CommandFacts& command) {
  return function_name(command) + "() {\n  _arguments" + option_lines(command) +
         argument_lines(command) + "\n}\n\n";
}

/// A command with commands behind it.
std::string branch_function(const CommandFacts& command) {
  std::string described, dispatched;
  for (const auto& sub : command.commands) {
    described += "        '" + sub.name + ":" + zsh_quoted(sub.description) + "'\n";
    dispatched += "        " + sub.name + ") " + function_name(sub) + " ;;\n";
  }
  return function_name(command) +
         "() {\n  local context state state_descr line\n  typeset -A opt_args\n  local -a "
         "commands\n  _arguments -C" +
         option_lines(command) +
         " \\\n    '1: :->command' \\\n    '*:: :->rest'\n  case $state in\n    command)\n"
         "      commands=(\n" +
         described +
         "      )\n      _describe command commands\n      ;;\n    rest)\n      case $line[1] "
         "in\n" +
         dispatched + "      esac\n      ;;\n  esac\n}\n\n";
}

std::string functions(const CommandFacts& command) {
  std::string text;
  for (const auto& sub : command.commands) text += functions(sub);
  return text + (command.commands.empty() ? leaf_function(command) : branch_function(command));
}

}  // namespace

std::string zsh_completion(const CommandFacts& program) {
  return "#compdef ohmtilt\n"
         "# Made from the program's option definitions; do not edit.\n\n" +
         functions(program) + "_ohmtilt \"$@\"\n";
}

}  // namespace ohmtilt::cli
