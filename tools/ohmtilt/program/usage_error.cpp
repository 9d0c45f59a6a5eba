#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/usage_error.h>
#include <algorithm>

namespace ohmtilt::cli {
namespace {

/// How far args got into the commands, and the words that remain.
struct Reached {
  const CommandFacts* command;
  std::vector<std::string> rest;
};

Reached reached(const CommandFacts& program, const std::vector<std::string>& args) {
  const CommandFacts* command = &program;
  std::size_t used = 0;
  for (; used < args.size(); ++used) {
    const auto found = std::find_if(command->commands.begin(), command->commands.end(),
                                    [&](const auto& sub) { return sub.name == args[used]; });
    if (found == command->commands.end()) break;
    command = &*found;
  }
  return {command, {args.begin() + static_cast<std::ptrdiff_t>(used), args.end()}};
}

std::string suggestion(const std::string& word, const std::vector<std::string>& names) {
  const auto near = nearest_word(word, names);
  return near ? "; did you mean " + *near + "?" : "";
}

std::vector<std::string> flags_of(const CommandFacts& command) {
  std::vector<std::string> flags;
  for (const auto& option : command.options)
    flags.insert(flags.end(), option.flags.begin(), option.flags.end());
  return flags;
}

/// For a command that needs another behind it.
std::string command_sentence(const Reached& at) {
  std::vector<std::string> names;
  for (const auto& sub : at.command->commands) names.push_back(sub.name);
  if (at.rest.empty()) return at.command->path + " needs a command, one of: " + listed(names);
  const std::string word = printable(at.rest[0], 80);
  if (word.starts_with("-"))
    return "the options stand behind a command, and \"" + word + "\" comes before one";
  return "\"" + word + "\" is no command of " + at.command->path + suggestion(word, names);
}

/// The first word that looks like an option and is none of the command's; empty if there is none.
std::string unknown_option(const Reached& at) {
  const auto flags = flags_of(*at.command);
  for (const auto& word : at.rest) {
    const std::string name = word.substr(0, word.find('='));
    const bool option = name.size() > 1 && name[0] == '-' && !parse_number(word);
    if (option && std::find(flags.begin(), flags.end(), name) == flags.end()) return name;
  }
  return "";
}

std::string extras_sentence(const Reached& at) {
  const std::string option = unknown_option(at);
  if (option == "--")
    return "\"--\" stands before names that begin with a dash, and " +
           std::string(at.rest.back() == "--" ? "none follows" : "there is one too many");
  const std::string name = printable(option, 80);
  if (!option.empty()) {
    const std::string near = suggestion(name, flags_of(*at.command));
    return "\"" + name + "\" is no option of " + at.command->path +
           (near.empty() ? "; write a file's name that begins so as ./" + name : near);
  }
  const std::size_t count = at.command->arguments.size();
  return "too many words: " + at.command->path + " takes " +
         (count == 0   ? "no argument"
          : count == 1 ? "one"
                       : std::to_string(count)) +
         " besides its options";
}

/// CLI11 says "NAME: ..." of an option with too few or too many values.
std::string count_sentence(const std::string& said) {
  const std::string name = said.substr(0, said.find(':'));
  const bool many = said.find("At Most") != std::string::npos;
  return name + (many ? " is given more than once; give it once" : " needs a value behind it");
}

std::string other_sentence(const Parsed& fault, const CommandFacts& command) {
  const std::string said = printable(fault.text, 1000);
  if (fault.outcome == Parsed::Outcome::missing) return said + ": " + usage(command);
  return fault.outcome == Parsed::Outcome::count ? count_sentence(said) : said;
}

}  // namespace

std::string usage_sentence(const CommandFacts& program, const Parsed& fault,
                           const std::vector<std::string>& args) {
  const Reached at = reached(program, args);
  std::string sentence;
  if (!at.command->commands.empty())
    sentence = command_sentence(at);
  else if (fault.outcome == Parsed::Outcome::extras || !unknown_option(at).empty())
    sentence = extras_sentence(at);
  else
    sentence = other_sentence(fault, *at.command);
  return sentence + (sentence.ends_with("?") ? " See " : "; see ") + at.command->path + " --help";
}

}  // namespace ohmtilt::cli
