#pragma once
#include <string>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// --tolerance, --samples, --seed, --distribution, --ambient, --heating-volt.
struct ToleranceFlags {
  bool asked = false;
  bool worst_case = false;  ///< --worst-case, which not every command has
  ToleranceOptions options;
};
void add_tolerance_options(Command& command, ToleranceFlags& flags);
void add_worst_case_option(Command& command, ToleranceFlags& flags);

/// The options with a line of progress on a terminal.
ToleranceOptions with_progress(const ToleranceFlags& flags, const Session& session);

/// "10000 draws, uniform within the tolerances, seed 1".
std::string draws_text(const ToleranceOptions& options);
/// What a worst case is worth: "all corners and 1000 sets inside, which reach
/// no further".
std::string reach_text(const WorstCaseReach& reach);

}  // namespace ohmtilt::cli
