// The C library's way to the files, as far as the readers go it: open, state, read, close. A
// program for WebAssembly alone has none of its own.
#include <tools/live/given_files.h>

#include <fcntl.h>
#include <sys/stat.h>
#include <wasi/api.h>
#include <algorithm>
#include <cerrno>
#include <cstdarg>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <map>
#include <memory>
#include <set>

namespace ohmtilt::live {
namespace {

using Bytes = std::shared_ptr<const std::string>;

/// Where a reader stands in a file that it opened.
struct Opened {
  Bytes bytes;
  std::size_t at = 0;
};

constexpr int first_descriptor = 100;

std::map<std::string, Bytes> files;
std::map<int, Opened> opened;

std::string plain(const std::string& name) {
  return std::filesystem::path(name).lexically_normal().string();
}

bool is_folder(const std::string& name) {
  const std::string inside =
      name == "." || name.empty() ? "" : name + (name.ends_with('/') ? "" : "/");
  if (inside.empty()) return true;
  const auto next = files.lower_bound(inside);
  return next != files.end() && next->first.starts_with(inside);
}

void describe(struct stat& facts, mode_t mode, std::size_t size) {
  std::memset(&facts, 0, sizeof facts);
  facts.st_mode = mode;
  facts.st_size = static_cast<off_t>(size);
}

long state_of(const char* written, struct stat* facts) {
  const std::string name = plain(written);
  const auto file = files.find(name);
  if (file != files.end())
    describe(*facts, S_IFREG | 0444, file->second->size());
  else if (is_folder(name))
    describe(*facts, S_IFDIR | 0555, 0);
  else
    return -ENOENT;
  return 0;
}

long open_file(const char* written) {
  const auto file = files.find(plain(written));
  if (file == files.end()) return is_folder(plain(written)) ? -EISDIR : -ENOENT;
  int descriptor = first_descriptor;
  while (opened.count(descriptor) > 0) ++descriptor;
  opened[descriptor] = {file->second, 0};
  return descriptor;
}

}  // namespace

void give_file(const std::string& name, std::string bytes) {
  files[plain(name)] = std::make_shared<const std::string>(std::move(bytes));
}

void take_file_away(const std::string& name) { files.erase(plain(name)); }

// Signatures are those of emscripten's C library (musl) and of WASI's preview 1.
extern "C" {

long __syscall_open(const char* name, long, ...) { return open_file(name); }
long __syscall_openat(long, const char* name, long, ...) { return open_file(name); }
long __syscall_stat64(const char* name, struct stat* facts) { return state_of(name, facts); }
long __syscall_lstat64(const char* name, struct stat* facts) { return state_of(name, facts); }
long __syscall_fstatat64(long, const char* name, struct stat* facts, long) {
  return state_of(name, facts);
}
long __syscall_fstat64(long descriptor, struct stat* facts) {
  const auto file = opened.find(static_cast<int>(descriptor));
  if (file == opened.end()) return -EBADF;
  describe(*facts, S_IFREG | 0444, file->second.bytes->size());
  return 0;
}

__wasi_errno_t __wasi_fd_read(__wasi_fd_t descriptor, const __wasi_iovec_t* rooms,
                              std::size_t count, __wasi_size_t* got) {
  const auto file = opened.find(static_cast<int>(descriptor));
  if (file == opened.end()) return __WASI_ERRNO_BADF;
  *got = 0;
  for (std::size_t i = 0; i < count; ++i) {
    Opened& one = file->second;
    const std::size_t size = std::min(std::size_t(rooms[i].buf_len), one.bytes->size() - one.at);
    std::memcpy(rooms[i].buf, one.bytes->data() + one.at, size);
    one.at += size;
    *got += size;
  }
  return __WASI_ERRNO_SUCCESS;
}

__wasi_errno_t __wasi_fd_close(__wasi_fd_t descriptor) {
  opened.erase(static_cast<int>(descriptor));
  return __WASI_ERRNO_SUCCESS;
}

}  // extern "C"

}  // namespace ohmtilt::live
