#pragma once
#include <string>
#include <string_view>

namespace ohmtilt::cli {

/// Bytes in base 64 (RFC 4648, section 4), filled up with "=".
std::string base64(std::string_view bytes);

}  // namespace ohmtilt::cli
