#pragma once
#include <string>
#include <vector>

namespace CLI {
class App;
class ParseError;
}  // namespace CLI

namespace ohmtilt::cli {

/// One sentence on a command line that could not be understood: what is wrong, what would be right
/// (the nearest name where one is near), and which --help tells more. args without the program's
/// name.
std::string usage_sentence(const CLI::App& program, const CLI::ParseError& error,
                           const std::vector<std::string>& args);

}  // namespace ohmtilt::cli
