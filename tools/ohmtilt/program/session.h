#pragma once
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/terminal.h>

namespace ohmtilt::cli {

/// The program while it runs: where answers go and what the exit status will be.
struct Session {
  Terminal out;
  Terminal err;
  int status = 0;
};

/// Tells one line behind "ohmtilt: " on standard error.
void tell(Session& session, const std::string& sentence);

}  // namespace ohmtilt::cli
