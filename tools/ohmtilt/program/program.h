#pragma once
#include <tools/ohmtilt/program/command_facts.h>

namespace ohmtilt::cli {

/// The facts of the whole program with every command that it has.
CommandFacts program_facts();

}  // namespace ohmtilt::cli
