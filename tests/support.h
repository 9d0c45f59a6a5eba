#pragma once
// What every test needs: where the checked-in data are, a scratch folder, a reader of small CSV
// tables of outside values that is independent of the project's own curve reader.
#include <gtest/gtest.h>

#include <ohmtilt/text/error.h>

#include <complex>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <map>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

namespace ohmtilt::test {

inline constexpr double pi = std::numbers::pi;
inline constexpr std::complex<double> j(0, 1);

/// The project's folder, and the one that it is built in.
std::filesystem::path source_dir();
std::filesystem::path binary_dir();
/// The version that CMakeLists.txt states.
std::string project_version();
inline std::filesystem::path data(const std::string& name) {
  return source_dir() / "tests/data" / name;
}

/// A new empty folder, removed with the object.
class Scratch {
 public:
  Scratch() {
    std::string pattern = (std::filesystem::temp_directory_path() / "ohmtilt-test-XXXXXX").string();
    folder_ = ::mkdtemp(pattern.data());
  }
  ~Scratch() { std::filesystem::remove_all(folder_); }
  Scratch(const Scratch&) = delete;
  Scratch& operator=(const Scratch&) = delete;
  std::filesystem::path operator/(const std::string& name) const { return folder_ / name; }
  const std::filesystem::path& folder() const { return folder_; }
  /// Writes text (any bytes) to name and returns the path.
  std::filesystem::path write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
    return folder_ / name;
  }

 private:
  std::filesystem::path folder_;
};

/// What the InputError says that action throws.
template <class Action>
std::string message(Action action) {
  try {
    action();
  } catch (const InputError& error) {
    return error.what();
  }
  return "nothing was refused";
}

inline std::string contents(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(stream), {}};
}

/// Rows of a comma-separated table as column name -> text; '#' lines are skipped.
inline std::vector<std::map<std::string, std::string>> csv_rows(const std::filesystem::path& file) {
  std::ifstream stream(file);
  EXPECT_TRUE(stream) << file;
  const auto cells = [](const std::string& line) {
    std::vector<std::string> result;
    std::stringstream cells_of(line);
    for (std::string cell; std::getline(cells_of, cell, ',');) result.push_back(cell);
    return result;
  };
  std::vector<std::string> names;
  std::vector<std::map<std::string, std::string>> rows;
  for (std::string line; std::getline(stream, line);) {
    if (line.empty() || line[0] == '#') continue;
    const auto found = cells(line);
    if (names.empty()) {
      names = found;
      continue;
    }
    std::map<std::string, std::string> row;
    for (std::size_t i = 0; i < names.size() && i < found.size(); ++i) row[names[i]] = found[i];
    rows.push_back(std::move(row));
  }
  return rows;
}

/// A number in such a row.
inline double number(const std::map<std::string, std::string>& row, const std::string& column) {
  return std::stod(row.at(column));
}

}  // namespace ohmtilt::test
