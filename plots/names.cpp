#include <plots/names.h>

#include <algorithm>
#include <map>
#include <set>

namespace ohmtilt::plots {
namespace {

using Names = std::vector<std::string>;

std::size_t shared_start(const Names& names) {
  std::size_t count = names.front().size();
  for (const auto& name : names)
    count = static_cast<std::size_t>(
        std::mismatch(name.begin(), name.begin() + static_cast<long>(std::min(count, name.size())),
                      names.front().begin())
            .first -
        name.begin());
  return count;
}

std::string turned(std::string text) {
  std::reverse(text.begin(), text.end());
  return text;
}

/// How many bytes of whole words all of them begin with, and go on after.
std::size_t shared_words(const Names& names) {
  const std::size_t count = shared_start(names);
  const std::size_t blank = count == 0 ? std::string::npos : names.front().rfind(' ', count - 1);
  return blank == std::string::npos ? 0 : blank + 1;
}

/// Without the words that all have in common at their start and end.
Names without_shared_of_all(Names names) {
  if (names.size() < 2) return names;
  const std::size_t start = shared_words(names);
  for (auto& name : names) name = name.substr(start);
  Names backwards;
  for (const auto& name : names) backwards.push_back(turned(name));
  const std::size_t end = shared_words(backwards);
  for (auto& name : names) name = (start > 0 ? ellipsis : "") + name.substr(0, name.size() - end);
  return names;
}

/// The same; where all have nothing in common, of those that begin with one word.
Names without_shared(const Names& names) {
  Names result = without_shared_of_all(names);
  if (result != names) return result;
  std::map<std::string, std::vector<std::size_t>> alike;
  for (std::size_t i = 0; i < names.size(); ++i)
    alike[names[i].substr(0, names[i].find(' '))].push_back(i);
  for (const auto& [word, which] : alike) {
    Names group;
    for (const std::size_t i : which) group.push_back(names[i]);
    group = without_shared_of_all(group);
    for (std::size_t k = 0; k < which.size(); ++k) result[which[k]] = group[k];
  }
  return result;
}

std::vector<std::string> characters(const std::string& text) {
  std::vector<std::string> all;
  each_character(text, [&all](std::string_view one) {
    all.emplace_back(one);
    return true;
  });
  return all;
}

/// As much of the text's end as fits.
std::string ending(const std::string& text, double limit, Width width) {
  const auto all = characters(text);
  std::string kept;
  for (auto one = all.rbegin(); one != all.rend() && width(*one + kept) <= limit; ++one)
    kept = *one + kept;
  return kept;
}

/// start_share of the room for the text's start, the rest for its end.
std::string cut(const std::string& text, double limit, double start_share, Width width) {
  if (width(text) <= limit) return text;
  if (start_share == 1) return shortened(text, limit, width);
  const double room = limit - width(ellipsis);
  std::string start;
  for (const auto& one : characters(text)) {
    if (width(start + one) > start_share * room) break;
    start += one;
  }
  return start + ellipsis + ending(text, room - width(start), width);
}

/// Whether names differ from one another and from those that stay as they are.
bool all_differ(const Names& names, const Names& others) {
  std::set<std::string> all(names.begin(), names.end());
  all.insert(others.begin(), others.end());
  return all.size() == names.size() + others.size();
}

Names numbered(const Names& names, double limit, Width width) {
  Names result;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::string place = " (" + std::to_string(i + 1) + ")";
    result.push_back(cut(names[i], limit - width(place), 1, width) + place);
  }
  return result;
}

Names cut_apart(const Names& names, const Names& others, double limit, Width width) {
  for (const Names& whole : {without_shared(names), names})
    for (const double start_share : {1.0, 0.5, 0.0}) {
      Names tried;
      for (const auto& name : whole) tried.push_back(cut(name, limit, start_share, width));
      if (all_differ(tried, others)) return tried;
    }
  return numbered(names, limit, width);
}

}  // namespace

std::vector<std::string> shortened_apart(const std::vector<std::string>& names, double limit,
                                         Width width) {
  const std::set<std::string> different(names.begin(), names.end());
  Names too_long, others;
  for (const auto& name : different) (width(name) > limit ? too_long : others).push_back(name);
  if (too_long.empty()) return names;
  const Names cut_ones = cut_apart(too_long, others, limit, width);
  Names result;
  for (const auto& name : names) {
    const auto at = std::lower_bound(too_long.begin(), too_long.end(), name);
    const bool is_cut = at != too_long.end() && *at == name;
    result.push_back(is_cut ? cut_ones[static_cast<std::size_t>(at - too_long.begin())] : name);
  }
  return result;
}

}  // namespace ohmtilt::plots
