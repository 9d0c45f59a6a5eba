#pragma once
// The commands that the program has: here and in a file of its own in commands/ each.
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// Each adds itself to the program.
void add_deviation(Command& program, Session& session);
void add_damping(Command& program, Session& session);
void add_acquire(Command& program, Session& session);
void add_equalize(Command& program, Session& session);
void add_flatten(Command& program, Session& session);
void add_pad(Command& program, Session& session);
void add_solve(Command& program, Session& session);
void add_inspect(Command& program, Session& session);
void add_model(Command& program, Session& session);
void add_headroom(Command& program, Session& session);
void add_hiss(Command& program, Session& session);
void add_crosstalk(Command& program, Session& session);
void add_survey(Command& program, Session& session);
void add_tune(Command& program, Session& session);
void add_report(Command& program, Session& session);
void add_live(Command& program, Session& session);

struct CommandEntry {
  const char* group;  ///< the heading that the program lists it under
  void (*add)(Command& program, Session& session);
};

/// Under the person who needs them first, in the order of a job.
inline constexpr CommandEntry commands[] = {
    {"For the reviewer", add_deviation}, {"For the reviewer", add_damping},
    {"For the reviewer", add_headroom},  {"For the reviewer", add_hiss},
    {"For the reviewer", add_crosstalk}, {"For the reviewer", add_report},
    {"For the reviewer", add_live},      {"For the reviewer", add_survey},
    {"For the designer", add_pad},       {"For the designer", add_flatten},
    {"For the designer", add_tune},      {"For the designer", add_equalize},
    {"For the designer", add_solve},     {"For the designer", add_model},
    {"For the owner", add_acquire},      {"For the owner", add_inspect},
};

}  // namespace ohmtilt::cli
