#pragma once
#include <filesystem>
#include <string>
#include <string_view>

namespace ohmtilt {

/// A file that appears whole or not at all. It is written beside its place under a name of its
/// own and renamed by commit(); destroyed without commit(), the written part is removed and
/// whatever stood at the place stays as it was.
class OutputFile {
 public:
  /// Throws OutputError if the place is a directory, a device or a pipe, its folder is missing or
  /// not writable, or a file stands there and replace is false. A link to a file is followed.
  OutputFile(std::filesystem::path place, bool replace);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  /// The open descriptor, for a child process to write to.
  int descriptor() const { return descriptor_; }
  /// Appends bytes. Throws OutputError when they could not all be written (disk full).
  void write(std::string_view bytes);
  /// Flushes to disk and renames into place. Throws OutputError and leaves nothing behind.
  void commit();

 private:
  std::filesystem::path place_;
  std::filesystem::path temporary_;
  bool replace_;
  int descriptor_ = -1;
};

/// Writes all of text to place through an OutputFile.
void write_file(const std::filesystem::path& place, std::string_view text, bool replace);

}  // namespace ohmtilt
