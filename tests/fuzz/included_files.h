#pragma once
// Files that a fuzzed text can name: a curve z.csv, a response r.csv, a volume table v.csv, a stage
// s.circuit.toml and an earphone's circuit e.circuit.toml, in a folder of their own.
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

namespace ohmtilt::fuzz {

class IncludedFiles {
 public:
  IncludedFiles() {
    std::string pattern = (std::filesystem::temp_directory_path() / "ohmtilt-fuzz-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) std::abort();
    folder_ = pattern;
    write("z.csv", "frequency_hz,magnitude_ohm,phase_deg\n10,16,0\n1000,20,9\n30000,32,30\n");
    write("r.csv", "frequency_hz,magnitude_db\n10,90\n1000,94\n30000,80\n");
    write("v.csv", "travel_percent,gain_db,imbalance_db\n0,-80,2\n100,0,0.1\n");
    const std::string resistor =
        "[[part]]\nname = \"R\"\nkind = \"resistor\"\nnodes = [\"a\", \"s\"]\nohm = 50\n";
    write("e.circuit.toml", "reference = \"s\"\n[ports]\nt = [\"a\", \"s\"]\n" + resistor);
    write("s.circuit.toml",
          "reference = \"s\"\n[ports]\nin = [\"a\", \"s\"]\nout = [\"a\", \"s\"]\n" + resistor);
  }
  ~IncludedFiles() { std::filesystem::remove_all(folder_); }
  IncludedFiles(const IncludedFiles&) = delete;
  IncludedFiles& operator=(const IncludedFiles&) = delete;
  const std::filesystem::path& folder() const { return folder_; }

 private:
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(folder_ / name, std::ios::binary) << text;
  }
  std::filesystem::path folder_;
};

/// One folder for the whole run.
inline const std::filesystem::path& included_folder() {
  static const IncludedFiles files;
  return files.folder();
}

}  // namespace ohmtilt::fuzz
