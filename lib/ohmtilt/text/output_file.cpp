#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/output_file.h>
#include <ohmtilt/text/text.h>
#include <cerrno>
#include <cstring>

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

/// Where a link leads, so that --force replaces the file and not the link; a link to nothing stays.
std::filesystem::path target_of(const std::filesystem::path& place) {
  std::error_code failed;
  if (!std::filesystem::is_symlink(place, failed)) return place;
  auto target = std::filesystem::canonical(place, failed);
  return failed ? place : target;
}

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
  if (!replace_ && std::filesystem::exists(std::filesystem::symlink_status(place_, ignored)))
    throw cannot(place_, "it exists; give another name, or --force to replace it");
  const auto folder = place_.has_parent_path() ? place_.parent_path() : std::filesystem::path(".");
  std::string pattern = (folder / ".ohmtilt-XXXXXX").string();
  descriptor_ = ::mkostemp(pattern.data(), O_CLOEXEC);
  if (descriptor_ < 0) throw cannot(place_, reason(errno));
  temporary_ = pattern;
  const mode_t mask = ::umask(0);
  ::umask(mask);
  ::fchmod(descriptor_, 0666 & ~mask);
}

OutputFile::~OutputFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
}

void OutputFile::write(std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor_, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) throw cannot(place_, reason(errno));
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
}

void OutputFile::commit() {
  const bool flushed = ::fsync(descriptor_) == 0 || errno == EINVAL || errno == EROFS;
  const int why_not_flushed = errno;
  const bool closed = ::close(descriptor_) == 0;
  descriptor_ = -1;
  if (!flushed || !closed) throw cannot(place_, reason(flushed ? errno : why_not_flushed));
  // Without --force a link, unlike a rename, cannot replace what has appeared there meanwhile.
  const bool placed = replace_ ? ::rename(temporary_.c_str(), place_.c_str()) == 0
                               : ::link(temporary_.c_str(), place_.c_str()) == 0;
  if (!placed && errno == EEXIST)
    throw cannot(place_, "it exists; give another name, or --force to replace it");
  if (!placed && (replace_ || ::rename(temporary_.c_str(), place_.c_str()) != 0))
    throw cannot(place_, reason(errno));
  if (!replace_) ::unlink(temporary_.c_str());
  temporary_.clear();
}

void write_file(const std::filesystem::path& place, std::string_view text, bool replace) {
  OutputFile file(place, replace);
  file.write(text);
  file.commit();
}

}  // namespace ohmtilt
