#pragma once
// The files that the page was given, in memory: what the library opens by name is one of them.
#include <string>

namespace ohmtilt::live {

/// Makes bytes the file of that name, in place of what it was. Names are paths with '/', relative
/// to one folder.
void give_file(const std::string& name, std::string bytes);
void take_file_away(const std::string& name);

}  // namespace ohmtilt::live
