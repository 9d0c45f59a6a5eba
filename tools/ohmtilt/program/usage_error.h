#pragma once
#include <string>
#include <vector>

#include <tools/ohmtilt/program/command_line.h>

namespace ohmtilt::cli {

/// One sentence on a command line that could not be understood: what is wrong, what would be right
/// (the nearest name where one is near), and which --help tells more. args without the program's
/// name.
std::string usage_sentence(const CommandFacts& program, const Parsed& fault,
                           const std::vector<std::string>& args);

}  // namespace ohmtilt::cli
