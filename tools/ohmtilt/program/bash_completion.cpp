#include <tools/ohmtilt/program/completion.h>

namespace ohmtilt::cli {
namespace {

std::string words(const CommandFacts& command) {
  std::string text;
  for (const auto& option : command.options)
    for (const auto& flag : option.flags) text += (text.empty() ? "" : " ") + flag;
  return text;
}

std::string names(const CommandFacts& command) {
  std::string text;
  for (const auto& sub : command.commands) text += (text.empty() ? "" : " ") + sub.name;
  return text;
}

std::string patterns(const OptionFacts& option) {
  std::string text;
  for (const auto& flag : option.flags) text += (text.empty() ? "" : "|") + flag;
  return text;
}

/// What stands behind the options that take a value.
std::string value_cases(const CommandFacts& command) {
  std::string text;
  for (const auto& option : command.options) {
    if (option.value.empty()) continue;
    text += "        " + patterns(option) + ") ";
    if (option.takes_file) {
      text += "kind=files";
    } else {
      text += "kind=words; list='";
      for (const auto& choice : option.choices)
        text += (choice == option.choices[0] ? "" : " ") + choice;
      text += "'";
    }
    text += " ;;\n";
  }
  return text;
}

bool takes_files(const CommandFacts& command) {
  for (const auto& argument : command.arguments)
    if (argument.takes_file) return true;
  return false;
}

void add_command(const CommandFacts& command, std::string& reached, std::string& known) {
  for (const auto& sub : command.commands) reached += "      '" + sub.path + "') path=$next ;;\n";
  known += "    '" + command.path + "')\n      options='" + words(command) + "'\n";
  if (!command.commands.empty()) known += "      kind=words; list='" + names(command) + "'\n";
  if (takes_files(command)) known += "      kind=files\n";
  const std::string values = value_cases(command);
  if (!values.empty()) known += "      case $before in\n" + values + "      esac\n";
  known += "      ;;\n";
  for (const auto& sub : command.commands) add_command(sub, reached, known);
}

}  // namespace

std::string bash_completion(const CommandFacts& program) {
  std::string reached, known;
  add_command(program, reached, known);
  return "# bash completion for ohmtilt. Made from the program's option definitions; do not edit.\n"
         "_ohmtilt() {\n"
         "  local current=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]}\n"
         "  local path=ohmtilt next options kind=none list= i\n"
         "  # --option=value arrives as three words\n"
         "  if [[ $current == = ]]; then current=; fi\n"
         "  if [[ $before == = ]]; then before=${COMP_WORDS[COMP_CWORD-2]}; fi\n"
         "  for ((i = 1; i < COMP_CWORD; ++i)); do\n"
         "    next=\"$path ${COMP_WORDS[i]}\"\n"
         "    case $next in\n" +
         reached +
         "    esac\n"
         "  done\n"
         "  case $path in\n" +
         known +
         "  esac\n"
         "  if [[ $current == -* ]]; then kind=words; list=$options; fi\n"
         "  COMPREPLY=()\n"
         "  case $kind in\n"
         "    words) mapfile -t COMPREPLY < <(compgen -W \"$list\" -- \"$current\") ;;\n"
         "    files)\n"
         "      compopt -o filenames 2>/dev/null\n"
         "      mapfile -t COMPREPLY < <(compgen -f -- \"$current\")\n"
         "      ;;\n"
         "  esac\n"
         "}\n"
         "complete -F _ohmtilt ohmtilt\n";
}

}  // namespace ohmtilt::cli
