#include <ohmtilt/chain/earphone_folder.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <algorithm>
#include <cctype>
#include <set>

namespace ohmtilt::cli {
namespace {

using Path = std::filesystem::path;

constexpr std::size_t most_sources = 1000;

bool is_file(const std::string& text) {
  std::error_code code;
  return std::filesystem::exists(text, code) && !std::filesystem::is_directory(text, code);
}

bool is_digits(const std::string& text) {
  return std::all_of(text.begin(), text.end(), [](unsigned char c) { return std::isdigit(c); });
}

/// "0,3" is far more often 0.3 than 0 and 3.
void refuse_decimal_comma(const std::vector<std::string>& items, const std::string& flag) {
  if (items.size() != 2 || items[0] != "0" || !is_digits(items[1])) return;
  throw InputError(flag + " \"0," + items[1] + "\" may be 0." + items[1] + " or 0 and " + items[1],
                   "write 0." + items[1] + " with a point, or " + items[1] + ",0 for the two");
}

std::vector<std::string> split_list(const std::string& list, const std::string& flag) {
  if (is_file(list)) return {list};
  std::vector<std::string> items;
  for (std::size_t start = 0; start <= list.size();) {
    const std::size_t end = std::min(list.find(',', start), list.size());
    items.emplace_back(trimmed(list.substr(start, end - start)));
    if (items.back().empty())
      throw InputError(flag + " \"" + printable(list) + "\" has an empty place",
                       "give sources with commas between: 0.3,1,6");
    start = end + 1;
  }
  refuse_decimal_comma(items, flag);
  return items;
}

}  // namespace

std::vector<TheveninSource> read_sources(const std::vector<std::string>& texts,
                                         const std::string& flag) {
  std::vector<TheveninSource> sources;
  for (const auto& text : texts)
    for (const auto& item : split_list(text, flag)) {
      if (sources.size() == most_sources)
        throw InputError("there are too many sources for one table",
                         "give at most " + std::to_string(most_sources));
      sources.push_back(read_source(item));
    }
  return sources;
}

std::vector<TheveninSource> ComparedSources::all() const {
  std::vector<TheveninSource> sources{from};
  sources.insert(sources.end(), to.begin(), to.end());
  return sources;
}

ComparedSources read_compared(const std::string& from, std::vector<TheveninSource> to) {
  to.insert(to.begin(), read_source(from));
  tell_apart(to);
  const TheveninSource first = to.front();
  to.erase(to.begin());
  return {first, std::move(to)};
}

void add_earphone_argument(Command& command, std::string& earphone) {
  command.add_option("earphone", earphone, "curve, circuit or earphone file")->required();
}

void add_from_option(Command& command, std::string& from, const std::string& what) {
  command.add_option("--from", from, what + ", ohm or file [0]")->type_name("SOURCE");
}

void add_to_option(Command& command, std::vector<std::string>& to, const std::string& what) {
  command
      .add_option("--to", to,
                  what + ", ohm or file; may be repeated, or several with commas between")
      ->type_name("SOURCE");
}

std::vector<Path> earphone_paths(const std::vector<std::string>& places) {
  std::vector<Path> files;
  std::set<Path> known;
  for (const auto& place : places)
    for (Path& file : is_file(place) ? std::vector<Path>{place} : earphone_files(place))
      if (known.insert(file.lexically_normal()).second) files.push_back(std::move(file));
  if (!files.empty()) return files;
  throw InputError(printable(places.front()) + " holds no earphone",
                   "put curves (.csv, .txt, .s1p), *.circuit.toml or *.earphone.toml there");
}

}  // namespace ohmtilt::cli
