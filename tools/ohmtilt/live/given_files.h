#pragma once
// The files that a live page carries along: every one that was read for it.
#include <filesystem>
#include <string>
#include <vector>

#include <tools/ohmtilt/program/json.h>

namespace ohmtilt::cli {

/// Names for files on a page: relative to the deepest folder that holds them all, so that they find
/// one another and nothing is told of where they stand here.
class GivenFiles {
 public:
  /// Of files that can be read.
  explicit GivenFiles(const std::vector<std::filesystem::path>& files);
  /// "two-way.csv", or "review/two-way.csv" where there are several folders.
  std::string name(const std::filesystem::path& file) const;
  /// [{"name": ..., "bytes": base 64}, ...].
  Json json() const;
  Json names_json(const std::vector<std::string>& files) const;
  std::size_t count() const { return files_.size(); }

 private:
  std::vector<std::filesystem::path> files_;  ///< absolute
  std::filesystem::path folder_;
};

}  // namespace ohmtilt::cli
