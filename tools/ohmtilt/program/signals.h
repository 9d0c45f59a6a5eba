#pragma once

namespace ohmtilt::cli {

/// For the program's start: writing to a closed pipe or beyond a file's limit is an error and not a
/// death; the signals that end the program (Ctrl-C, SIGTERM, SIGHUP, SIGQUIT) first remove files
/// that are not finished and stop gnuplot. The program still ends by the signal, so that a shell
/// sees a status of 128 and its number. A signal that is ignored stays so (nohup).
void handle_signals();

}  // namespace ohmtilt::cli
