#pragma once
#include <filesystem>
#include <vector>

namespace ohmtilt {

/// The earphones of a folder, by file name: every *.earphone.toml; then the curves (.csv .tsv .txt
/// .tab .dat .s1p) and *.circuit.toml that neither share the stem of an earphone file nor are named
/// by another file of the folder (an earphone's curve, a chain's output impedance, a part's curve).
/// Left out: *.response.*, chains, hidden files, and texts about the data (README, LICENSE ...).
/// Folders within are not looked into. Throws InputError when folder is no folder or may not be
/// read.
std::vector<std::filesystem::path> earphone_files(const std::filesystem::path& folder);

}  // namespace ohmtilt
