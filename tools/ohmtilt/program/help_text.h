#pragma once
#include <string>

#include <tools/ohmtilt/program/command_facts.h>

namespace ohmtilt::cli {

/// What --help prints: lines of at most 80 characters where words allow; an example that is longer
/// goes on after a backslash, so that it can be copied into a shell as it stands.
std::string help_text(const CommandFacts& command);

/// text broken at blanks into lines of at most width characters (a longer word stands alone), each
/// after the first beginning with indent; end stands before each break (" \\" for a shell command).
std::string wrapped(const std::string& text, std::size_t width, const std::string& indent,
                    const std::string& end = "");

}  // namespace ohmtilt::cli
