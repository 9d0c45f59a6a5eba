#pragma once
// What the option definitions say about each command, as plain values: help, manual pages and shell
// completions are all made from these, so none of them can fall behind the program.
#include <string>
#include <vector>

namespace ohmtilt::cli {

struct OptionFacts {
  std::vector<std::string> flags;    ///< "-o", "--output"; for an argument its bare name
  std::string value;                 ///< "FILE", "DB"; empty for a flag without value
  std::vector<std::string> choices;  ///< when the value is one of a few words ("driven|open")
  std::string description;
  bool takes_file = false;  ///< the value is, or may be, the name of a file
  bool many = false;        ///< several values may follow
  bool required = false;
};

struct Example {
  std::string label;    ///< "Example"; "Example for the reviewer"
  std::string command;  ///< "ohmtilt deviation ...", one line
};

/// A command and all below it. A line "LABEL:  ohmtilt ..." of its footer whose label begins with
/// "Example" is an example, every other line a note.
struct CommandFacts {
  std::string path;  ///< "ohmtilt acquire source"
  std::string name;  ///< "source"
  std::string group;
  std::string description;
  std::vector<std::string> notes;  ///< paragraphs of the footer without its examples
  std::vector<Example> examples;
  std::vector<OptionFacts> arguments, options;
  std::vector<CommandFacts> commands;
};

/// "Usage" without that word: "ohmtilt deviation [OPTIONS] earphone".
std::string usage(const CommandFacts& command);

/// An option's left column: "-h,--help", "--to SOURCE ...".
std::string invocation(const OptionFacts& option);

}  // namespace ohmtilt::cli
