#pragma once
#include <filesystem>
#include <vector>

namespace ohmtilt::cli {

/// Of the files that a run is to write: throws InputError if one has an empty name, two are one
/// file by whatever names, or one has been read in this run (InputsRead).
void check_outputs(const std::vector<std::filesystem::path>& outputs);

}  // namespace ohmtilt::cli
