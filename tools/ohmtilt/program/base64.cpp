#include <tools/ohmtilt/program/base64.h>
#include <boost/archive/iterators/base64_from_binary.hpp>
#include <boost/archive/iterators/transform_width.hpp>

namespace ohmtilt::cli {

std::string base64(std::string_view bytes) {
  using namespace boost::archive::iterators;
  using Base64 = base64_from_binary<transform_width<std::string_view::const_iterator, 6, 8>>;
  const std::string text(Base64(bytes.cbegin()), Base64(bytes.cend()));
  return text + std::string((4 - text.size() % 4) % 4, '=');
}

}  // namespace ohmtilt::cli
