#pragma once
#include <string>
#include <string_view>

#include <ohmtilt/text/text.h>

namespace ohmtilt {

/// A name from a file as a message shows it: printable, at most 60 characters, between quotes.
inline std::string quoted_name(std::string_view name) { return "\"" + printable(name, 60) + "\""; }

}  // namespace ohmtilt
