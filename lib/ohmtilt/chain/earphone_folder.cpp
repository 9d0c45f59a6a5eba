#include <ohmtilt/chain/earphone_folder.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <array>
#include <set>

namespace ohmtilt {
namespace {

using Path = std::filesystem::path;

constexpr std::array curve_endings{".csv", ".tsv", ".txt", ".tab", ".dat", ".s1p"};
constexpr std::array about_the_data{"readme",  "license",   "licence", "copying",
                                    "authors", "changelog", "notes",   "index"};

/// "two-way" and ".response.csv" of "two-way.response.csv": kinds stand before the ending.
struct Name {
  std::string stem, ending;
};

Name split(const Path& file) {
  const std::string name = file.filename().string();
  const std::string whole = lower(name);
  for (const char* kind : {".earphone.", ".circuit.", ".chain.", ".response."})
    if (const auto at = whole.rfind(kind); at != std::string::npos && at > 0)
      return {name.substr(0, at), whole.substr(at)};
  const auto dot = whole.rfind('.');
  return dot == std::string::npos ? Name{name, ""} : Name{name.substr(0, dot), whole.substr(dot)};
}

template <class Words>
bool is_among(const std::string& word, const Words& words) {
  return std::find(words.begin(), words.end(), word) != words.end();
}

bool is_earphone(const Name& name) { return name.ending == ".earphone.toml"; }

/// Might be an earphone without an earphone file.
bool is_bare(const Name& name) {
  return name.ending == ".circuit.toml" ||
         (is_among(name.ending, curve_endings) && !is_among(lower(name.stem), about_the_data));
}

void add_named(const TomlTable& table, const std::string& key, const Path& folder,
               std::set<Path>& named) {
  if (table.is_text(key)) named.insert((folder / table.require_file_name(key)).lexically_normal());
}

/// Adds the files that a TOML file of the house names. What cannot be read names nothing here; its
/// own reader says what is wrong.
void add_files_named_by(const Path& file, std::set<Path>& named) try {
  const TomlTable top = read_toml(file);
  const Path folder = file.parent_path();
  for (const char* key : {"impedance", "circuit", "response", "isolation"})
    add_named(top, key, folder, named);
  if (top.has("source")) {
    const TomlTable source = *top.table("source");
    add_named(source, "output_curve", folder, named);
    if (const auto volume = source.table("volume")) add_named(*volume, "file", folder, named);
  }
  for (const char* key : {"stage", "part"})
    for (const TomlTable& one : top.tables(key)) add_named(one, "file", folder, named);
} catch (const InputError&) {
}

std::vector<Path> regular_files(const Path& folder) {
  std::error_code code;
  if (!std::filesystem::is_directory(folder, code))
    throw InputError(Place{folder.string()}, "there is no such folder",
                     "give a folder of curves, circuits or earphone files");
  std::vector<Path> files;
  std::filesystem::directory_iterator entry(folder, code);
  for (; !code && entry != std::filesystem::directory_iterator(); entry.increment(code)) {
    std::error_code unknown;
    const bool hidden = entry->path().filename().string().starts_with(".");
    if (!hidden && entry->is_regular_file(unknown)) files.push_back(entry->path());
  }
  if (code)
    throw InputError(Place{folder.string()}, "the folder cannot be read: " + code.message(),
                     "check its permissions");
  std::sort(files.begin(), files.end());
  return files;
}

}  // namespace

std::vector<Path> earphone_files(const Path& folder) {
  const auto files = regular_files(folder);
  std::set<std::string> stems;
  std::set<Path> named;
  for (const Path& file : files) {
    if (is_toml_name(file)) add_files_named_by(file, named);
    if (const Name name = split(file); is_earphone(name)) stems.insert(name.stem);
  }
  std::vector<Path> earphones;
  for (const Path& file : files) {
    const Name name = split(file);
    const bool taken = stems.count(name.stem) > 0 || named.count(file.lexically_normal()) > 0;
    if (is_earphone(name) || (is_bare(name) && !taken)) earphones.push_back(file);
  }
  return earphones;
}

}  // namespace ohmtilt
