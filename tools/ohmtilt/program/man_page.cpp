#include <tools/ohmtilt/program/help_text.h>
#include <tools/ohmtilt/program/man_page.h>
#include <algorithm>
#include <sstream>

namespace ohmtilt::cli {
namespace {

std::string upper(std::string text) {
  for (char& c : text)
    if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  return text;
}

std::string page_name(const CommandFacts& command) {
  std::string name = command.path;
  std::replace(name.begin(), name.end(), ' ', '-');
  return name;
}

std::string each_line(const std::string& text) {
  std::string result;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) result += troff(line) + "\n";
  return result;
}

/// A paragraph in source lines of a handy length.
std::string filled(const std::string& text) { return each_line(wrapped(text, 70, "")); }

std::string section(const std::string& title) { return ".SH " + troff(title) + "\n"; }

/// One entry of a list: what it is called, and what it is.
std::string tagged(const std::string& tag, const std::string& text) {
  return ".TP\n\\fB" + troff(tag) + "\\fR\n" + filled(text);
}

std::string option_tag(const OptionFacts& option) {
  std::string tag;
  for (const auto& flag : option.flags) tag += (tag.empty() ? "\\fB" : "\\fR, \\fB") + troff(flag);
  if (!option.value.empty() && option.flags[0].starts_with("-"))
    tag += "\\fR \\fI" + troff(option.value);
  return tag + "\\fR" + (option.many ? " ..." : "");
}

std::string options_text(const std::vector<OptionFacts>& options) {
  std::string text;
  for (const auto& option : options)
    text += ".TP\n" + option_tag(option) + "\n" + filled(option.description);
  return text;
}

std::string examples_text(const CommandFacts& command) {
  std::string text;
  for (const auto& example : command.examples)
    text += (example.label == "Example" ? "" : ".PP\n" + troff(example.label) + ":\n") +
            ".PP\n.RS 4\n.nf\n" + each_line(wrapped(example.command, 70, "    ", " \\")) +
            ".fi\n.RE\n";
  return text;
}

std::string notes_text(const CommandFacts& command) {
  std::string text;
  for (const auto& note : command.notes) text += ".PP\n" + filled(note);
  return text;
}

std::string head(const CommandFacts& command, const Release& release) {
  return ".\\\" Made from the option definitions of ohmtilt; do not edit.\n.TH " +
         troff(upper(page_name(command))) + " 1 " + release.date + " \"ohmtilt " + release.version +
         "\" \"User Commands\"\n" + section("NAME") + troff(page_name(command)) + " \\- " +
         troff(command.description) + "\n";
}

/// A command below a command, as a part of its page.
std::string sub_section(const CommandFacts& command) {
  return ".SS " + troff(command.path) + "\n" + troff(command.description) + ".\n.PP\n\\fB" +
         troff(usage(command)) + "\\fR\n" + options_text(command.arguments) +
         options_text(command.options) + notes_text(command) + ".PP\nExample:\n" +
         examples_text(command);
}

std::string command_page(const CommandFacts& command, const Release& release) {
  std::string text =
      head(command, release) + section("SYNOPSIS") + "\\fB" + troff(usage(command)) + "\\fR\n";
  if (!command.notes.empty()) text += section("DESCRIPTION") + notes_text(command).substr(4);
  text += section("OPTIONS") + options_text(command.arguments) + options_text(command.options);
  if (!command.commands.empty()) text += section("COMMANDS");
  for (const auto& sub : command.commands) text += sub_section(sub);
  if (!command.examples.empty()) text += section("EXAMPLE") + examples_text(command).substr(4);
  return text + section("SEE ALSO") +
         "\\fBohmtilt\\fR(1), which has the kinds of files and the exit status\n";
}

std::string commands_section(const CommandFacts& program) {
  std::string text = section("COMMANDS"), group;
  for (const auto& command : program.commands) {
    if (command.group != group) text += ".SS " + troff(command.group) + "\n";
    group = command.group;
    text += tagged(command.name, command.description);
  }
  return text;
}

std::string see_also(const CommandFacts& program) {
  std::string text = section("SEE ALSO");
  for (const auto& command : program.commands)
    text += "\\fB" + troff(page_name(command)) + "\\fR(1),\n";
  return text + "\\fBgnuplot\\fR(1)\n";
}

std::string program_page(const CommandFacts& program, const Release& release) {
  return head(program, release) + section("SYNOPSIS") + "\\fB" + troff(usage(program)) + "\\fR\n" +
         section("DESCRIPTION") +
         "An earphone is an impedance curve (a table of frequency and ohms, or Touchstone), a\n"
         "circuit file or an earphone file. A source is a number of ohms, an IEC 60062 code (6R0,\n"
         "R30), a curve of a measured output impedance, or a chain file. Invented files of each\n"
         "kind are installed in share/ohmtilt/impedance\\-curves; copy that folder to where you\n"
         "work, and the examples run as they stand.\n" +
         options_text(program.options) + commands_section(program) + section("EXIT STATUS") +
         tagged("0", "done") + tagged("1", "a limit that you asked to check is exceeded") +
         tagged("2", "bad usage or bad input; nothing is on standard output") +
         tagged("3", "an output could not be written or drawn") +
         tagged("128 + n", "ended by signal n (130: Ctrl-C); no half file is left") +
         section("ENVIRONMENT") +
         tagged("OHMTILT_GNUPLOT_SECONDS",
               "The longest time in seconds that gnuplot may take for a figure or for its version, "
               "0.1 to 86400 [60]. Then it is stopped and the exit status is 3. Nothing else of the "
               "environment changes a figure: gnuplot sees neither GNUTERM nor GNUPLOT_ variables, "
               "and its language and time zone are fixed.") +
         section("FILES") +
         tagged("share/ohmtilt/impedance-curves/FILES.md", "Every key of every kind of file.") +
         tagged(".ohmtilt-XXXXXX",
               "Where the file system has no files without a name (FAT, NFS), an output grows under "
               "such a name beside its place and is renamed when it is whole. One that stays behind "
               "was left by a run that was killed by SIGKILL; delete it.") +
         section("CAUTIONS") +
         "Predicted levels can hurt hearing: start quiet, and take earphones off the ears while\n"
         "you measure. An output with a bias voltage drives a direct current through an earphone:\n"
         "do not connect one that does not need it.\n" +
         section("EXAMPLES") + examples_text(program).substr(4) + see_also(program);
}

}  // namespace

std::string troff(const std::string& text) {
  std::string result;
  for (const char c : text) {
    if (c == '\\')
      result += "\\e";
    else if (c == '-')
      result += "\\-";
    else if (c == '\'')
      result += "\\(aq";
    else if (c == '"')
      result += "\\(dq";
    else if (c == '^')
      result += "\\(ha";
    else if (c == '~')
      result += "\\(ti";
    else if (c == '`')
      result += "\\(ga";
    else
      result += c;
  }
  return result.starts_with('.') ? "\\&" + result : result;
}

std::vector<std::pair<std::string, std::string>> man_pages(const CommandFacts& program,
                                                           const Release& release) {
  std::vector<std::pair<std::string, std::string>> pages{
      {page_name(program) + ".1", program_page(program, release)}};
  for (const auto& command : program.commands)
    pages.emplace_back(page_name(command) + ".1", command_page(command, release));
  return pages;
}

}  // namespace ohmtilt::cli
