#include <ohmtilt/text/temporary_name.h>

#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <climits>
#include <random>
#include <string_view>
#include <utility>

namespace ohmtilt {
namespace {

/// Where a signal handler finds the names: no memory is asked for and nothing locked.
struct Slot {
  enum State : int { empty, changing, full };
  std::atomic<int> state{empty};
  std::array<char, PATH_MAX> name{};
};
std::array<Slot, 16> slots;

/// A name that finds no slot, or is too long for one, is removed by its object alone.
void enter(const std::string& name) {
  if (name.size() >= PATH_MAX) return;
  for (Slot& slot : slots) {
    int expected = Slot::empty;
    if (!slot.state.compare_exchange_strong(expected, Slot::changing)) continue;
    std::copy(name.c_str(), name.c_str() + name.size() + 1, slot.name.begin());
    slot.state = Slot::full;
    return;
  }
}

void strike_out(std::string_view name) {
  for (Slot& slot : slots)
    if (slot.state == Slot::full && name == slot.name.data()) slot.state = Slot::empty;
}

/// So many letters that no other file has by chance.
std::string random_letters() {
  constexpr std::string_view letters =
      "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789";
  std::random_device random;
  std::uniform_int_distribution<std::size_t> one(0, letters.size() - 1);
  std::string text;
  for (int i = 0; i < 6; ++i) text += letters[one(random)];
  return text;
}

std::string free_name(const std::filesystem::path& folder) {
  while (true) {
    std::string name = (folder / (".ohmtilt-" + random_letters())).string();
    if (::access(name.c_str(), F_OK) != 0) return name;
  }
}

}  // namespace

TemporaryName::TemporaryName(const std::filesystem::path& folder) : name_(free_name(folder)) {
  enter(name_);
}

TemporaryName& TemporaryName::operator=(TemporaryName&& other) noexcept {
  std::swap(name_, other.name_);
  return *this;
}

void TemporaryName::remove() {
  if (!empty()) ::unlink(c_str());
  forget();
}

void TemporaryName::forget() {
  if (!empty()) strike_out(name_);
  name_.clear();
}

void remove_unfinished_files() noexcept {
  for (const Slot& slot : slots)
    if (slot.state == Slot::full) ::unlink(slot.name.data());
}

}  // namespace ohmtilt
