#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

std::string to_string(const Place& place) {
  std::string text = printable(place.file);
  if (place.line > 0) text += ":" + std::to_string(place.line);
  if (place.line > 0 && place.column > 0) text += ":" + std::to_string(place.column);
  return text;
}

InputError::InputError(const std::string& wrong, const std::string& remedy)
    : std::runtime_error(wrong + "; " + remedy) {}

InputError::InputError(const Place& place, const std::string& wrong, const std::string& remedy)
    : std::runtime_error((place.file.empty() ? "" : to_string(place) + ": ") + wrong + "; " +
                         remedy) {}

InputError::InputError(const InputError& known, const std::string& more)
    : std::runtime_error(known.what() + more) {}

}  // namespace ohmtilt
