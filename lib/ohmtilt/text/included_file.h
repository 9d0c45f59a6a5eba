#pragma once
#include <filesystem>
#include <string>

#include <ohmtilt/text/strict_toml.h>

namespace ohmtilt {

/// The path that the key's text names, relative to folder. Throws InputError at the key's place
/// when it is missing, no text, or names no regular file.
std::filesystem::path included_file(const TomlTable& table, const std::string& key,
                                    const std::filesystem::path& folder);

}  // namespace ohmtilt
