#pragma once
// What an answer hands to the page: named arrays, texts and tables, read where they lie in memory.
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

#include <ohmtilt/base/array.h>

namespace ohmtilt::live {

class Reply {
 public:
  void clear();
  void put(const std::string& name, const Array& values);
  void put(const std::string& name, std::vector<double> values);
  void put(const std::string& name, const std::string& text);
  /// Lines; no line has a line end in it.
  void put(const std::string& name, const std::vector<std::string>& lines);
  /// Rows of cells.
  void put(const std::string& name, const std::vector<std::vector<std::string>>& rows);

  /// One entry as the page reads it: kind 0 is doubles, 1 a text, 2 lines, 3 rows; size counts
  /// doubles or bytes. Lines end in "\n", cells in "\t".
  struct Entry {
    std::uint32_t name, name_size, kind, data, size;
  };
  const std::vector<Entry>& entries();

 private:
  struct Item {
    std::string name;
    std::uint32_t kind;
    std::vector<double> values;
    std::string text;
  };
  std::deque<Item> items_;
  std::vector<Entry> entries_;
};

}  // namespace ohmtilt::live
