#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/text.h>
#include <tools/live/reply.h>

namespace ohmtilt::live {
namespace {

constexpr std::size_t longest_text = 4000;

/// Line ends become blanks, other control characters "?".
std::string one_line_of(const std::string& text) {
  return valid_utf8(printable(one_line(text), longest_text));
}

std::uint32_t address(const void* data) {
  return static_cast<std::uint32_t>(reinterpret_cast<std::uintptr_t>(data));
}

}  // namespace

void Reply::clear() { items_.clear(); }

void Reply::put(const std::string& name, const Array& values) {
  items_.push_back({name, 0, {values.begin(), values.end()}, {}});
}

void Reply::put(const std::string& name, std::vector<double> values) {
  items_.push_back({name, 0, std::move(values), {}});
}

void Reply::put(const std::string& name, const std::string& text) {
  items_.push_back({name, 1, {}, valid_utf8(text)});
}

void Reply::put(const std::string& name, const std::vector<std::string>& lines) {
  Item item{name, 2, {}, {}};
  for (const auto& line : lines) item.text += one_line_of(line) + "\n";
  items_.push_back(std::move(item));
}

void Reply::put(const std::string& name, const std::vector<std::vector<std::string>>& rows) {
  Item item{name, 3, {}, {}};
  for (const auto& row : rows) {
    for (const auto& cell : row) item.text += one_line_of(cell) + "\t";
    item.text += "\n";
  }
  items_.push_back(std::move(item));
}

const std::vector<Reply::Entry>& Reply::entries() {
  entries_.clear();
  for (const auto& item : items_) {
    const bool numbers = item.kind == 0;
    entries_.push_back(
        {address(item.name.data()), static_cast<std::uint32_t>(item.name.size()), item.kind,
         numbers ? address(item.values.data()) : address(item.text.data()),
         static_cast<std::uint32_t>(numbers ? item.values.size() : item.text.size())});
  }
  return entries_;
}

}  // namespace ohmtilt::live
