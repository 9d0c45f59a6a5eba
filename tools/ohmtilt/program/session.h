#pragma once
#include <ohmtilt/text/error.h>
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
/// The same of what could not be written, with the option that allows it where there is one.
void tell(Session& session, const OutputError& error);

}  // namespace ohmtilt::cli
