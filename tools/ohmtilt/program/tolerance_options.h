#pragma once
#include <string>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// --tolerance, --samples, --seed, --distribution.
struct ToleranceFlags {
  bool asked = false;
  ToleranceOptions options;
};
void add_tolerance_options(Command& command, ToleranceFlags& flags);

/// The options with a line of progress on a terminal.
ToleranceOptions with_progress(const ToleranceFlags& flags, const Session& session);

/// "10000 draws, uniform within the tolerances, seed 1".
std::string draws_text(const ToleranceOptions& options);

}  // namespace ohmtilt::cli
