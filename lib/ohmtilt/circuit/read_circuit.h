#pragma once
#include <filesystem>
#include <string>
#include <string_view>

#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

class TomlTable;  // text/strict_toml.h

/// Reads NAME.circuit.toml (FILES.md "Circuit"). Paths in it are relative to it.
/// Throws InputError with file, line, column and remedy.
Read<Circuit> read_circuit(const std::filesystem::path& file);
/// The same of a file that was read as TOML already.
Read<Circuit> read_circuit(const TomlTable& file);
/// The same from memory; name stands for the file in messages, folder is where its curves are.
Read<Circuit> parse_circuit(std::string_view toml, const std::string& name,
                            const std::filesystem::path& folder);

/// The text of a circuit file that reads back the same. Throws InputError for a curve part that
/// was made in memory and has no file.
std::string circuit_text(const Circuit& circuit);

}  // namespace ohmtilt
