#pragma once
#include <filesystem>
#include <optional>

#include <ohmtilt/text/strict_toml.h>

namespace ohmtilt {

/// Whether a file is read as TOML: its name ends in ".toml".
bool is_toml_name(const std::filesystem::path& file);

/// What the top keys of a TOML file say that it is.
enum class TomlContent { circuit, chain, earphone, unknown };
TomlContent content_of(const TomlTable& top);
/// The file as TOML where that says that it is a circuit. Throws InputError as read_toml().
std::optional<TomlTable> circuit_table(const std::filesystem::path& file);

}  // namespace ohmtilt
