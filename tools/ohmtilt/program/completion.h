#pragma once
#include <string>

#include <tools/ohmtilt/program/command_facts.h>

namespace ohmtilt::cli {

/// Completion of commands, options, words that an option may take, and file names.
std::string bash_completion(const CommandFacts& program);
std::string zsh_completion(const CommandFacts& program);
std::string fish_completion(const CommandFacts& program);

}  // namespace ohmtilt::cli
