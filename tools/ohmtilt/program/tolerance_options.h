#pragma once
#include <cstdint>
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
/// --samples and --seed of random draws; what says of what they are.
Option add_samples_option(Command& command, long& samples, const std::string& what);
Option add_seed_option(Command& command, std::uint64_t& seed,
                       const std::string& what = "random seed");
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
