#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <ohmtilt/base/error.h>
#include <ohmtilt/base/output_file.h>
#include <ohmtilt/base/text.h>
#include <cerrno>
#include <cstring>

namespace ohmtilt {
namespace {

OutputError cannot(const std::filesystem::path& place, const std::string& why) {
  return OutputError(printable(place.string()) + ": cannot be written: " + why);
}

}  // namespace

OutputFile::OutputFile(std::filesystem::path place, bool replace)
    : place_(std::move(place)), replace_(replace) {
  std::error_code ignored;
  if (std::filesystem::is_directory(place_, ignored))
    throw cannot(place_, "it is a directory; give a file name");
  if (!replace_ && std::filesystem::exists(std::filesystem::symlink_status(place_, ignored)))
    throw cannot(place_, "it exists; give another name, or --force to replace it");
  const auto folder = place_.has_parent_path() ? place_.parent_path() : std::filesystem::path(".");
  std::string pattern = (folder / ".ohmtilt-XXXXXX").string();
  descriptor_ = ::mkostemp(pattern.data(), O_CLOEXEC);
  if (descriptor_ < 0) throw cannot(place_, std::strerror(errno));
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
    if (written < 0) throw cannot(place_, std::strerror(errno));
    bytes.remove_prefix(static_cast<std::size_t>(written));
  }
}

void OutputFile::commit() {
  const bool flushed = ::fsync(descriptor_) == 0 || errno == EINVAL || errno == EROFS;
  const int why_not_flushed = errno;
  const bool closed = ::close(descriptor_) == 0;
  descriptor_ = -1;
  if (!flushed || !closed) throw cannot(place_, std::strerror(flushed ? errno : why_not_flushed));
  // Without --force a link, unlike a rename, cannot replace what has appeared there meanwhile.
  const bool placed = replace_ ? ::rename(temporary_.c_str(), place_.c_str()) == 0
                               : ::link(temporary_.c_str(), place_.c_str()) == 0;
  if (!placed && errno == EEXIST)
    throw cannot(place_, "it exists; give another name, or --force to replace it");
  if (!placed && (replace_ || ::rename(temporary_.c_str(), place_.c_str()) != 0))
    throw cannot(place_, std::strerror(errno));
  if (!replace_) ::unlink(temporary_.c_str());
  temporary_.clear();
}

void write_file(const std::filesystem::path& place, std::string_view text, bool replace) {
  OutputFile file(place, replace);
  file.write(text);
  file.commit();
}

}  // namespace ohmtilt
