#pragma once
#include <filesystem>
#include <string>
#include <string_view>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

class TomlTable;  // text/strict_toml.h

/// Reads NAME.chain.toml (FILES.md "Chain"). Paths in it are relative to it; a circuit or curve
/// that it names names no chain, so there are no cycles. Throws InputError with file, line, column
/// and remedy.
Read<Chain> read_chain(const std::filesystem::path& file);
/// The same of a file that was read as TOML already.
Read<Chain> read_chain(const TomlTable& file);
/// The same from memory; name stands for the file in messages, folder is where its files are.
Read<Chain> parse_chain(std::string_view toml, const std::string& name,
                        const std::filesystem::path& folder);

/// From what a user writes wherever a source is wanted (as read_source): a number or a code becomes
/// a chain of that output_ohm, a curve one of that output_curve. Throws InputError.
Read<Chain> read_any_chain(const std::string& text);

/// The text of a chain file that reads back the same. Throws InputError for a curve, circuit or
/// table that was made in memory and has no file.
std::string chain_text(const Chain& chain);

}  // namespace ohmtilt
