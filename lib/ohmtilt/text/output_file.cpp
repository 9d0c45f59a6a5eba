#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/output_file.h>
#include <ohmtilt/text/text.h>
#include <cerrno>
#include <cstring>
#include <utility>

namespace ohmtilt {
namespace {

OutputError cannot(const std::filesystem::path& place, const std::string& why) {
  return OutputError(printable(place.string()) + ": cannot be written: " + why);
}

/// Why the system refused, and what to do about it.
std::string reason(int error) {
  switch (error) {
    case ENOENT:
    case ENOTDIR:
      return "its folder does not exist; make it first";
    case EACCES:
    case EPERM:
      return "you may not write in its folder; choose another";
    case EROFS:
      return "its folder can only be read; choose another";
    case ENOSPC:
    case EDQUOT:
      return "the disk is full; make room, or choose another place";
    case EFBIG:
      return "the file would be larger than is allowed here (ulimit -f)";
    default:
      return std::strerror(error);
  }
}

/// Where a link leads, so that the file is replaced and not the link.
std::filesystem::path target_of(const std::filesystem::path& place) {
  std::error_code failed;
  if (!std::filesystem::is_symlink(place, failed)) return place;
  auto target = std::filesystem::canonical(place, failed);
  if (failed)
    throw cannot(place, "it is a link that leads nowhere; remove it, or give another name");
  return target;
}

FileExists exists_already(const std::filesystem::path& place) {
  return FileExists(cannot(place, "it exists; give another name").what());
}

/// A rename would replace a file that nobody may write.
void refuse_read_only(const std::filesystem::path& place) {
  struct stat facts {};
  const bool some_may = ::stat(place.c_str(), &facts) == 0 && (facts.st_mode & 0222) != 0;
  if (!some_may || ::access(place.c_str(), W_OK) != 0)
    throw cannot(place, "it may only be read; give another name, or make it writable");
}

/// The open file itself, for a link to be made to it.
std::string name_of(int descriptor) { return "/proc/self/fd/" + std::to_string(descriptor); }

/// A device or a pipe would be renamed over, not written to.
void refuse_other_than_file(const std::filesystem::path& place) {
  std::error_code ignored;
  const auto status = std::filesystem::status(place, ignored);
  if (std::filesystem::is_directory(status))
    throw cannot(place, "it is a directory; give a file name");
  if (std::filesystem::exists(status) && !std::filesystem::is_regular_file(status))
    throw cannot(place, "it is a device or a pipe; give a file name");
}

}  // namespace

OutputFile::OutputFile(std::filesystem::path place, bool replace)
    : place_(target_of(place)), replace_(replace) {
  std::error_code ignored;
  refuse_other_than_file(place_);
  const bool exists = std::filesystem::exists(std::filesystem::symlink_status(place_, ignored));
  if (exists && was_read(place_))
    throw cannot(place_, "it is an input of this very run; give another name");
  if (exists && !replace_) throw exists_already(place_);
  if (exists) refuse_read_only(place_);
  open();
  if (exists) take_over_mode();
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

std::filesystem::path OutputFile::folder() const {
  return place_.has_parent_path() ? place_.parent_path() : std::filesystem::path(".");
}

void OutputFile::open() {
  descriptor_ = ::open(folder().c_str(), O_TMPFILE | O_WRONLY | O_CLOEXEC, 0666);
  if (descriptor_ >= 0 && ::access(name_of(descriptor_).c_str(), F_OK) == 0) return;
  if (descriptor_ >= 0) ::close(descriptor_);
  temporary_ = TemporaryName(folder());
  descriptor_ = ::open(temporary_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  if (descriptor_ >= 0) return;
  const int why = errno;
  temporary_.forget();
  throw cannot(place_, reason(why));
}

/// And its owner and group, where that is allowed: otherwise the new group may do no more than all.
void OutputFile::take_over_mode() {
  struct stat old {};
  if (::stat(place_.c_str(), &old) != 0) return;
  const bool same_group = ::fchown(descriptor_, old.st_uid, old.st_gid) == 0 ||
                          ::fchown(descriptor_, static_cast<uid_t>(-1), old.st_gid) == 0;
  const mode_t groups = same_group ? 0070 : (old.st_mode & 0007) << 3;
  if (::fchmod(descriptor_, old.st_mode & (0707 | groups)) != 0)
    throw cannot(place_, reason(errno));
}

void OutputFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) throw cannot(place_, reason(errno));
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
}

/// Neither a link without a name of its own nor one beside the old file can replace what has
/// appeared at the place meanwhile; a rename can.
bool OutputFile::give_name() {
  if (temporary_.empty())
    return ::linkat(AT_FDCWD, name_of(descriptor_).c_str(), AT_FDCWD, place_.c_str(),
                    AT_SYMLINK_FOLLOW) == 0;
  if (::link(temporary_.c_str(), place_.c_str()) == 0) {
    temporary_.remove();
    return true;
  }
  return errno != EEXIST && give_name_over_old();  // a file system without links
}

bool OutputFile::give_name_over_old() {
  if (temporary_.empty()) {
    temporary_ = TemporaryName(folder());
    if (::linkat(AT_FDCWD, name_of(descriptor_).c_str(), AT_FDCWD, temporary_.c_str(),
                 AT_SYMLINK_FOLLOW) != 0)
      return false;
  }
  if (::rename(temporary_.c_str(), place_.c_str()) != 0) return false;
  temporary_.forget();
  return true;
}

void OutputFile::commit() {
  const bool flushed = ::fsync(descriptor_) == 0 || errno == EINVAL || errno == EROFS;
  if (!flushed) throw cannot(place_, reason(errno));
  const bool placed = replace_ ? give_name_over_old() : give_name();
  if (!placed && errno == EEXIST) throw exists_already(place_);
  if (!placed) throw cannot(place_, reason(errno));
  ::close(std::exchange(descriptor_, -1));
}

void write_file(const std::filesystem::path& place, std::string_view text, bool replace) {
  OutputFile file(place, replace);
  file.write(text);
  file.commit();
}

}  // namespace ohmtilt
