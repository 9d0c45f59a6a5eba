#pragma once
#include <filesystem>
#include <string>
#include <string_view>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/temporary_name.h>

namespace ohmtilt {

/// A file stands where one is to be written, and may not be replaced.
class FileExists : public OutputError {
 public:
  using OutputError::OutputError;
};

/// A file that appears whole or not at all. Until commit() it has no name, or where the file system
/// knows no such files one of its own beside its place (".ohmtilt-XXXXXX", see TemporaryName);
/// destroyed without commit(), the written part is gone and whatever stood at the place stays as
/// it was.
class OutputFile {
 public:
  /// Throws OutputError if the place is a directory, a device, a pipe or a link that leads nowhere,
  /// its folder is missing or not writable, or the file there may only be read; FileExists if one
  /// stands there and replace is false. A link to a file is followed. A file that is replaced hands
  /// on its mode.
  OutputFile(std::filesystem::path place, bool replace);
  ~OutputFile();
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;

  /// Appends bytes. Throws OutputError when they could not all be written (disk full).
  void write(std::string_view bytes);
  /// Flushes to disk and gives it its name. Throws OutputError and leaves nothing behind.
  void commit();

 private:
  void open();
  void take_over_mode();
  bool give_name();
  bool give_name_over_old();
  std::filesystem::path folder() const;

  std::filesystem::path place_;
  TemporaryName temporary_;  ///< none while the file has no name
  bool replace_;
  int descriptor_ = -1;
};

/// Writes all of text to place through an OutputFile.
void write_file(const std::filesystem::path& place, std::string_view text, bool replace);

}  // namespace ohmtilt
