#pragma once
#include <string>
#include <utility>
#include <vector>

#include <tools/ohmtilt/program/command_facts.h>

namespace ohmtilt::cli {

/// When this version was made, for the pages' foot.
struct Release {
  std::string version;
  std::string date;  ///< "2026-11-25"
};

/// The manual in section 1: file name and troff text of a page for the program and of one for each
/// command; a command's own commands stand on its page.
std::vector<std::pair<std::string, std::string>> man_pages(const CommandFacts& program,
                                                           const Release& release);

/// text for troff: no letter of it is taken as a request or an escape.
std::string troff(const std::string& text);

}  // namespace ohmtilt::cli
