#pragma once
#include <filesystem>
#include <string>

namespace ohmtilt {

/// A name ".ohmtilt-XXXXXX" that nothing has in folder yet, for a file that is not finished. What
/// stands under it is removed with the object, and by remove_unfinished_files().
class TemporaryName {
 public:
  TemporaryName() = default;  ///< no name
  explicit TemporaryName(const std::filesystem::path& folder);
  ~TemporaryName() { remove(); }
  TemporaryName(const TemporaryName&) = delete;
  TemporaryName& operator=(const TemporaryName&) = delete;
  TemporaryName& operator=(TemporaryName&& other) noexcept;

  const char* c_str() const { return name_.c_str(); }
  bool empty() const { return name_.empty(); }
  void remove();
  void forget();  ///< what stood there has got its own name

 private:
  std::string name_;
};

/// Removes what stands under every temporary name. May be called in a signal handler; the program
/// has to end afterwards.
void remove_unfinished_files() noexcept;

}  // namespace ohmtilt
