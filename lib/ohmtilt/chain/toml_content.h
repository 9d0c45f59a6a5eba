#pragma once
#include <filesystem>

#include <ohmtilt/text/strict_toml.h>

namespace ohmtilt {

/// Whether a file is read as TOML: its name ends in ".toml".
bool is_toml_name(const std::filesystem::path& file);

/// What the top keys of a TOML file say that it is.
enum class TomlContent { circuit, chain, earphone, unknown };
TomlContent content_of(const TomlTable& top);

}  // namespace ohmtilt
