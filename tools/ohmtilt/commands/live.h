#pragma once
// What `live` and `report` say alike.
#include <string>

#include <tools/ohmtilt/live/given_files.h>

namespace ohmtilt::cli {

/// Whether it names a file or a folder.
bool is_there(const std::string& place);
/// As a live page writes a source (tools/live/source_spec.h).
std::string spec_of(const std::string& source, const GivenFiles& files);

}  // namespace ohmtilt::cli
