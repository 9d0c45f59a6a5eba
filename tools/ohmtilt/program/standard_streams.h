#pragma once
#include <string_view>

namespace ohmtilt::cli {

/// Started with a closed standard stream, the program would give its number to the next file that
/// it opens, and the answer would go there. Opens what is closed so that writing to it is an error.
void occupy_standard_streams();
/// Whether standard error is a terminal, where a line can be written over.
bool errors_go_to_a_terminal();
/// Writes to standard error where there may be no memory; false when that fails.
bool write_without_memory(std::string_view sentence) noexcept;

}  // namespace ohmtilt::cli
