#include <tests/support.h>

// The only file that is told where it was built, so that no other differs from one checkout to the
// next.
namespace ohmtilt::test {

std::filesystem::path source_dir() { return OHMTILT_SOURCE_DIR; }

std::filesystem::path binary_dir() { return OHMTILT_BINARY_DIR; }

std::string project_version() { return OHMTILT_VERSION; }

}  // namespace ohmtilt::test
