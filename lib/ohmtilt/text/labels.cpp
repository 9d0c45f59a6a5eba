#include <ohmtilt/text/labels.h>
#include <ohmtilt/text/text.h>

#include <filesystem>
#include <map>

namespace ohmtilt {
namespace {

using Labels = std::vector<std::string>;

Labels with_files(const Labels& labels, const Labels& files) {
  Labels result;
  for (std::size_t i = 0; i < labels.size(); ++i)
    result.push_back(files[i].empty() ? labels[i] : labels[i] + " [" + valid_utf8(files[i]) + "]");
  return result;
}

/// Those that more than one has give way to the ones beside them.
Labels replaced_where_equal(const Labels& labels, const Labels& beside) {
  std::map<std::string, int> uses;
  for (const auto& label : labels) ++uses[label];
  Labels result;
  for (std::size_t i = 0; i < labels.size(); ++i)
    result.push_back(uses[labels[i]] > 1 ? beside[i] : labels[i]);
  return result;
}

Labels numbered_where_equal(Labels labels) {
  std::map<std::string, int> seen;
  for (auto& label : labels)
    if (const int place = ++seen[label]; place > 1) label += " (" + std::to_string(place) + ")";
  return labels;
}

}  // namespace

Labels distinct_labels(const Labels& labels, const Labels& files) {
  Labels bare;
  for (const auto& file : files) bare.push_back(std::filesystem::path(file).filename().string());
  const Labels by_name = replaced_where_equal(labels, with_files(labels, bare));
  return numbered_where_equal(replaced_where_equal(by_name, with_files(labels, files)));
}

}  // namespace ohmtilt
