#pragma once
// Lists of sources and of earphones, as several commands take them.
#include <filesystem>
#include <string>
#include <vector>

#include <ohmtilt/chain/thevenin_source.h>
#include <tools/ohmtilt/program/command_line.h>

namespace ohmtilt::cli {

/// What a table of spans shows where no sources are asked for.
inline constexpr const char* usual_sources = "0.3,1,3,6,10,30,120";

/// Each text is a source or several with commas between; a file whose name has a comma is one.
/// Throws InputError naming the flag: for an empty place, and for what may be a decimal comma.
std::vector<TheveninSource> read_sources(const std::vector<std::string>& texts,
                                         const std::string& flag);

/// The source to compare from, and those to compare with. Their labels all differ (tell_apart()).
struct ComparedSources {
  TheveninSource from;
  std::vector<TheveninSource> to;
  std::vector<TheveninSource> all() const;  ///< from first
};
ComparedSources read_compared(const std::string& from, std::vector<TheveninSource> to);

/// The argument `earphone`; --from; --to, one or more of them.
void add_earphone_argument(Command& command, std::string& earphone);
void add_from_option(Command& command, std::string& from,
                     const std::string& what = "the source to compare from");
void add_to_option(Command& command, std::vector<std::string>& to,
                   const std::string& what = "the source to compare with");

/// The files of folders and single files, each once, in that order. Throws InputError where there
/// is none.
std::vector<std::filesystem::path> earphone_paths(const std::vector<std::string>& places);

}  // namespace ohmtilt::cli
