#pragma once
#include <filesystem>
#include <optional>
#include <string>

namespace ohmtilt {

/// What a user wrote in place of a source: either ohm, or a file that exists.
struct SourceText {
  std::optional<double> ohm;
  std::filesystem::path file;
  bool is_toml = false;  ///< the file is a chain rather than a curve
};

/// Throws InputError that says what would be understood.
SourceText understood_source(const std::string& text);

}  // namespace ohmtilt
