#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/live/given_files.h>
#include <tools/ohmtilt/program/base64.h>

#include <algorithm>
#include <fstream>
#include <iterator>

namespace ohmtilt::cli {
namespace {

std::filesystem::path whole_path(const std::filesystem::path& file) {
  return std::filesystem::absolute(file).lexically_normal();
}

std::filesystem::path common_folder(const std::filesystem::path& one,
                                    const std::filesystem::path& other) {
  std::filesystem::path common;
  auto a = one.begin();
  for (auto b = other.begin(); a != one.end() && b != other.end() && *a == *b; ++a, ++b)
    common /= *a;
  return common;
}

std::string bytes_of(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::string bytes{std::istreambuf_iterator<char>(stream), {}};
  if (stream.bad() || !stream.is_open())
    throw InputError(Place{file.string()}, "the file cannot be read again", "check it");
  return bytes;
}

}  // namespace

GivenFiles::GivenFiles(const std::vector<std::filesystem::path>& files) {
  for (const auto& file : files) {
    const auto whole = whole_path(file);
    if (std::find(files_.begin(), files_.end(), whole) == files_.end()) files_.push_back(whole);
  }
  if (!files_.empty()) folder_ = files_.front().parent_path();
  for (const auto& file : files_) folder_ = common_folder(folder_, file.parent_path());
}

std::string GivenFiles::name(const std::filesystem::path& file) const {
  return valid_utf8(whole_path(file).lexically_relative(folder_).string());
}

Json GivenFiles::names_json(const std::vector<std::string>& files) const {
  Json names = Json::array();
  for (const auto& file : files) names.push_back(name(file));
  return names;
}

Json GivenFiles::json() const {
  Json list = Json::array();
  for (const auto& file : files_)
    list.push_back(Json{{"name", name(file)}, {"bytes", base64(bytes_of(file))}});
  return list;
}

}  // namespace ohmtilt::cli
