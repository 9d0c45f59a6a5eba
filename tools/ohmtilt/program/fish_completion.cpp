#include <tools/ohmtilt/program/completion.h>

namespace ohmtilt::cli {
namespace {

std::string fish_quoted(const std::string& text) {
  std::string result = "'";
  for (const char c : text) {
    if (c == '\'' || c == '\\') result += '\\';
    result += c;
  }
  return result + "'";
}

/// Holds on a command line that has reached this command and none below it.
std::string condition(const CommandFacts& command) {
  return " -n '__ohmtilt_at \"" + command.path + "\"'";
}

std::string option_line(const CommandFacts& command, const OptionFacts& option) {
  std::string text = "complete -c ohmtilt" + condition(command);
  for (const auto& flag : option.flags)
    text += flag.starts_with("--") ? " -l " + flag.substr(2) : " -s " + flag.substr(1);
  if (option.takes_file) {
    text += " -r -F";
  } else if (!option.value.empty()) {
    text += " -x -a '";
    for (const auto& choice : option.choices)
      text += (choice == option.choices[0] ? "" : " ") + choice;
    text += "'";
  }
  return text + " -d " + fish_quoted(option.description) + "\n";
}

std::string lines(const CommandFacts& command) {
  std::string text;
  for (const auto& sub : command.commands)
    text += "complete -c ohmtilt -f" + condition(command) + " -a " + sub.name + " -d " +
            fish_quoted(sub.description) + "\n";
  for (const auto& option : command.options) text += option_line(command, option);
  for (const auto& sub : command.commands) text += lines(sub);
  return text;
}

std::string reached(const CommandFacts& command) {
  std::string text;
  for (const auto& sub : command.commands)
    text += "            case " + fish_quoted(sub.path) + "\n                set path $next\n" +
            reached(sub);
  return text;
}

}  // namespace

std::string fish_completion(const CommandFacts& program) {
  return "# Made from the program's option definitions; do not edit.\n"
         "function __ohmtilt_at --description 'whether the command line has come so far'\n"
         "    set -l path ohmtilt\n"
         "    for word in (commandline -opc)[2..-1]\n"
         "        set -l next \"$path $word\"\n"
         "        switch $next\n" +
         reached(program) +
         "        end\n"
         "    end\n"
         "    test \"$path\" = \"$argv[1]\"\n"
         "end\n\n" +
         lines(program);
}

}  // namespace ohmtilt::cli
