#pragma once
// The live page without its data: a resource file that is built apart, by emscripten.
#include <filesystem>
#include <optional>
#include <string>

#include <tools/ohmtilt/program/command_line.h>
#include <tools/ohmtilt/report/markup.h>

namespace ohmtilt::cli {

/// What a page is filled with.
struct LivePage {
  std::string title;
  Markup start;       ///< what stands there before a script runs, or without one
  std::string given;  ///< one JSON object: the files and the state to start with
};

/// The page as a part of another one, in a shadow root: neither's style reaches the other.
struct LivePart {
  Markup part;                  ///< to stand in a body
  std::string scripts, styles;  ///< what the other page's policy must allow for it
};

class LiveTemplate {
 public:
  /// Reads the file, or without one share/ohmtilt/live.html beside the program's bin. Throws
  /// InputError that says how to get it where it is not there, and for one of another version.
  explicit LiveTemplate(const std::optional<std::string>& file);
  std::string filled(const LivePage& page) const;
  /// What starts without a script is left to the other page; of page only the data counts.
  LivePart part(const LivePage& page) const;

 private:
  std::string text_;
};

/// The option that names that file.
void add_template_option(Command& command, const std::string& flag,
                         std::optional<std::string>& file, const std::string& what);

}  // namespace ohmtilt::cli
