#pragma once
#include <filesystem>
#include <vector>

namespace ohmtilt {

/// While one lives, the files that are read are remembered, and an OutputFile refuses to replace
/// any of them. One at a time; without it nothing is remembered.
class InputsRead {
 public:
  InputsRead();
  ~InputsRead();
  InputsRead(const InputsRead&) = delete;
  InputsRead& operator=(const InputsRead&) = delete;
};

/// For whatever opens a file to read it.
void remember_input(const std::filesystem::path& file);
/// The files that were read, by the names that they were opened by, each once, in that order.
std::vector<std::filesystem::path> inputs_read();
/// Whether it is one of those that were read, whatever its name.
bool was_read(const std::filesystem::path& file);

}  // namespace ohmtilt
