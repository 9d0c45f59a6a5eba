#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

std::filesystem::path included_file(const TomlTable& table, const std::string& key,
                                    const std::filesystem::path& folder) {
  const std::string written = table.require_file_name(key);
  const bool no_name = written.empty() || written.find('\0') != std::string::npos;
  std::filesystem::path file = folder / written;
  std::error_code code;
  if (no_name || !std::filesystem::is_regular_file(file, code))
    table.refuse(key, "names \"" + printable(written, 100) + "\", which is not a file here",
                 "give a path relative to the file it stands in");
  return file;
}

}  // namespace ohmtilt
