#include <tools/ohmtilt/program/help_text.h>
#include <algorithm>
#include <sstream>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t page_width = 80;
constexpr std::size_t left_column = 30;

std::string entry(const std::string& left, const std::string& right) {
  std::string text = "  " + left;
  const std::string indent(left_column, ' ');
  if (text.size() + 2 > left_column)
    text += "\n" + indent;
  else
    text.resize(left_column, ' ');
  return text + wrapped(right, page_width - left_column, indent) + "\n";
}

std::string options_text(const std::string& title, const std::vector<OptionFacts>& options) {
  if (options.empty()) return "";
  std::string text = "\n" + title + ":\n";
  for (const auto& option : options)
    text +=
        entry(invocation(option), option.description + (option.required && !option.value.empty() &&
                                                                option.flags[0].starts_with("-")
                                                            ? " (required)"
                                                            : ""));
  return text;
}

/// The commands under their groups, in the order in which the groups first appear.
std::string commands_text(const CommandFacts& command) {
  std::vector<std::string> groups;
  for (const auto& sub : command.commands)
    if (std::find(groups.begin(), groups.end(), sub.group) == groups.end())
      groups.push_back(sub.group);
  std::string text;
  for (const auto& group : groups) {
    text += "\n" + group + ":\n";
    for (const auto& sub : command.commands)
      if (sub.group == group) text += entry(sub.name, sub.description);
  }
  return text;
}

}  // namespace

std::string wrapped(const std::string& text, std::size_t width, const std::string& indent,
                    const std::string& end) {
  std::string result;
  std::size_t used = 0;
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    if (used > 0 && used + 1 + word.size() + end.size() > width) {
      result += end + "\n" + indent;
      used = 0;
    } else if (used > 0) {
      result += ' ';
      ++used;
    }
    result += word;
    used += word.size();
  }
  return result;
}

std::string help_text(const CommandFacts& command) {
  std::string text = wrapped(command.description, page_width, "") + "\n\n" +
                     wrapped("Usage: " + usage(command), page_width, "         ") + "\n";
  text += options_text("Arguments", command.arguments);
  text += options_text("Options", command.options);
  text += commands_text(command);
  if (!command.notes.empty()) text += "\n";
  for (const auto& note : command.notes) text += wrapped(note, page_width, "") + "\n";
  for (const auto& example : command.examples)
    text += "\n" + example.label + ":\n  " +
            wrapped(example.command, page_width - 4, "    ", " \\") + "\n";
  return text;
}

}  // namespace ohmtilt::cli
