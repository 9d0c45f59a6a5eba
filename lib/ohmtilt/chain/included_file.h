#pragma once
#include <filesystem>
#include <string>

#include <ohmtilt/base/strict_toml.h>

namespace ohmtilt {

/// The path that the key's text names, relative to folder. Throws InputError at the key's place
/// when it is missing, no text, or names no regular file.
std::filesystem::path included_file(const TomlTable& table, const std::string& key,
                                    const std::filesystem::path& folder);

/// Whether a file is read as TOML: its name ends in ".toml".
bool is_toml_name(const std::filesystem::path& file);

/// What the top keys of a TOML file say that it is.
enum class TomlContent { circuit, chain, earphone, unknown };
TomlContent content_of(const TomlTable& top);

}  // namespace ohmtilt
