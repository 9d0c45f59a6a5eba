#pragma once
// The real program, as a shell starts it.
#include <sys/wait.h>

#include <cstdlib>
#include <string>

#include "tests/cli/program.h"

namespace ohmtilt::test {

/// text as one word for the shell.
inline std::string word(const std::string& text) {
  std::string result = "'";
  for (const char c : text) result += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return result + "'";
}

/// Runs commands in folder with sh; `ohmtilt` is this build's. A signal that ended the last command
/// shows as a status of 128 and its number.
inline Ran shell(const std::filesystem::path& folder, const std::string& commands) {
  const Scratch said;
  const std::string path = binary_dir().string() + "/bin:" + std::getenv("PATH");
  const std::string line = "cd " + word(folder.string()) + " && PATH=" + word(path) + " sh -c " +
                           word(commands) + " >" + word((said / "out").string()) + " 2>" +
                           word((said / "err").string()) + " </dev/null";
  const int status = std::system(line.c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), contents(said / "out"),
          contents(said / "err")};
}

/// Names of all files in folder that begin with a dot: what a writer left behind.
inline std::vector<std::string> left_over(const std::filesystem::path& folder) {
  std::vector<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().filename().string().starts_with(".ohmtilt"))
      names.push_back(entry.path().filename().string());
  return names;
}

}  // namespace ohmtilt::test
