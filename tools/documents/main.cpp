// Writes the manual and the shell completions below a folder, laid out as below /usr/share.
#include <ohmtilt/text/output_file.h>
#include <tools/ohmtilt/program/completion.h>
#include <tools/ohmtilt/program/man_page.h>
#include <tools/ohmtilt/program/program.h>
#include <cstdio>
#include <exception>
#include <filesystem>

namespace {

void write(const std::filesystem::path& file, const std::string& text) {
  std::filesystem::create_directories(file.parent_path());
  ohmtilt::write_file(file, text, true);
}

void write_documents(const std::filesystem::path& share) {
  using namespace ohmtilt::cli;
  const CommandFacts program = program_facts();
  for (const auto& [name, text] : man_pages(program, {OHMTILT_VERSION, OHMTILT_DATE}))
    write(share / "man/man1" / name, text);
  write(share / "bash-completion/completions/ohmtilt", bash_completion(program));
  write(share / "zsh/site-functions/_ohmtilt", zsh_completion(program));
  write(share / "fish/vendor_completions.d/ohmtilt.fish", fish_completion(program));
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 2) {
    std::fputs("usage: ohmtilt_documents FOLDER\n", stderr);
    return 2;
  }
  try {
    write_documents(arguments[1]);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "ohmtilt_documents: %s\n", error.what());
    return 1;
  }
  return 0;
}
