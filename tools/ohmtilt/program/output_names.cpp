#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/output_names.h>

namespace ohmtilt::cli {
namespace {

using Path = std::filesystem::path;

/// The file that a name leads to, whether it exists or not.
Path place_of(const Path& file) {
  std::error_code failed;
  Path place = std::filesystem::weakly_canonical(std::filesystem::absolute(file, failed), failed);
  return failed ? file : place;
}

bool are_one(const Path& first, const Path& second) {
  std::error_code failed;
  return place_of(first) == place_of(second) ||
         std::filesystem::equivalent(first, second, failed);  // two names of one file
}

std::string in_quotes(const Path& file) { return "\"" + printable(file.string()) + "\""; }

}  // namespace

void check_outputs(const std::vector<Path>& outputs) {
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    if (outputs[i].empty())
      throw InputError("the name of an output is empty", "name the file to write");
    if (was_read(outputs[i]))
      throw InputError(in_quotes(outputs[i]) + " is an input of this very run",
                       "give the output another name");
    for (std::size_t k = 0; k < i; ++k)
      if (are_one(outputs[k], outputs[i]))
        throw InputError(in_quotes(outputs[i]) + " is named for two outputs",
                         "give each a file of its own");
  }
}

}  // namespace ohmtilt::cli
