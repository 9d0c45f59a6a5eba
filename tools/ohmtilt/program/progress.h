#pragma once
#include <functional>
#include <memory>

#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// Shows on a terminal's standard error how much of a long work is done: from its second second on,
/// and only there; the line is gone when the work is. Call it with 0 to 1.
std::function<void(double)> progress_line(const Session& session, const std::string& what);

}  // namespace ohmtilt::cli
