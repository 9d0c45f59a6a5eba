#pragma once
#include <iosfwd>
#include <string>
#include <vector>

namespace ohmtilt::cli {

/// Exit statuses, the same for every command.
enum Exit { done = 0, limit_exceeded = 1, bad_input = 2, output_failed = 3 };

/// Said when standard output refuses the answer.
constexpr const char* unwritten_output =
    "standard output could not be written; see whether its disk is full or its reader has gone";

/// The whole program behind a thin main: args without the program's name. Answers go to out, errors
/// and progress to err. Throws nothing but std::bad_alloc, where there is no memory for a message.
int run(const std::vector<std::string>& args, std::ostream& out, std::ostream& err);

}  // namespace ohmtilt::cli
