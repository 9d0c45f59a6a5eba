#include <ohmtilt/text/inputs_read.h>

#include <sys/stat.h>

#include <algorithm>
#include <mutex>
#include <optional>
#include <set>
#include <utility>

namespace ohmtilt {
namespace {

/// Device and number: one file, however many names it has.
using Identity = std::pair<dev_t, ino_t>;

std::optional<Identity> identity_of(const std::filesystem::path& file) {
  struct stat facts {};
  if (::stat(file.c_str(), &facts) != 0) return std::nullopt;
  return Identity(facts.st_dev, facts.st_ino);
}

std::mutex guard;
std::optional<std::set<Identity>> remembered;
std::vector<std::filesystem::path> names;

}  // namespace

InputsRead::InputsRead() {
  const std::lock_guard lock(guard);
  remembered.emplace();
  names.clear();
}

InputsRead::~InputsRead() {
  const std::lock_guard lock(guard);
  remembered.reset();
}

void remember_input(const std::filesystem::path& file) {
  const auto identity = identity_of(file);
  const std::lock_guard lock(guard);
  if (!remembered || !identity) return;
  if (remembered->insert(*identity).second ||
      std::find(names.begin(), names.end(), file) == names.end())
    names.push_back(file);
}

std::vector<std::filesystem::path> inputs_read() {
  const std::lock_guard lock(guard);
  return names;
}

bool was_read(const std::filesystem::path& file) {
  const auto identity = identity_of(file);
  const std::lock_guard lock(guard);
  return remembered && identity && remembered->count(*identity) > 0;
}

}  // namespace ohmtilt
