#pragma once
// What every command shares: how it enters the program, how it answers, the options on frequencies.
#include <filesystem>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/base/array.h>
#include <plots/figure.h>
#include <tools/ohmtilt/program/command_line.h>
#include <tools/ohmtilt/program/json.h>

namespace ohmtilt::cli {

/// A table for --csv: named columns of equal length.
class CsvTable {
 public:
  /// Numbers; a cell whose value is not finite stays empty.
  void add(std::string name, const Array& values);
  /// Any text; it is quoted, and a spreadsheet takes none of it for a formula.
  void add(std::string name, const std::vector<std::string>& texts);
  std::string text() const;

 private:
  struct Column {
    std::string name;
    Array values;
    std::vector<std::string> texts;  ///< in place of values
    std::size_t rows() const;
    std::string cell(std::size_t row) const;
  };
  std::vector<Column> columns_;
};

/// What a command has to say, in all its forms. A form that is left empty does not exist for it.
struct Answer {
  std::string text;  ///< for people
  Json json;         ///< the command's own keys, in order
  /// What can hurt ears, earphone or amplifier: said before everything else, and first among the
  /// warnings of the JSON.
  std::vector<std::string> cautions;
  std::vector<std::string> warnings;
  CsvTable csv;
  std::function<void(const plots::Output&)> draw;
  std::function<void(const plots::Output&)> draw_schematic;  ///< for --draw
  /// Documents for other commands: where to, and the text.
  std::vector<std::pair<std::filesystem::path, std::string>> documents;
  /// Files that are no text (a recording): where to, and what writes it at once, over an old one
  /// only if replace.
  std::vector<std::pair<std::filesystem::path, std::function<void(bool replace)>>> files;
  std::vector<std::string> failures;  ///< outputs that cannot be given, each told; the status is 3
  bool limit_exceeded = false;
};

/// --json, --csv, --plot, --show, --draw, --force.
struct OutputOptions {
  bool json = false;
  std::optional<std::string> csv;
  std::vector<std::string> plot;
  std::vector<std::string> schematic;
  bool show = false;
  bool force = false;
};
void add_output_options(Command& command, OutputOptions& options, bool with_figure = true);
/// --draw, for commands whose Answer may have draw_schematic; what_for ends its help's sentence.
void add_schematic_option(Command& command, OutputOptions& options, const std::string& what_for);

/// --band, --points, --anchor.
struct GridOptions {
  Band band;
  Eigen::Index points = 480;
  Anchor anchor = AnchorFrequency{};
};
void add_grid_options(Command& command, GridOptions& options);
void add_band_option(Command& command, Band& band);  ///< --band alone
void add_anchor_option(Command& command, GridOptions& options);

struct Session;  // session.h: the program while it runs

/// Checks first that every output can be given, then works out the answer and gives it in the forms
/// that were asked for: files, then standard output, then figures. Sets session.status.
void respond(Session& session, const OutputOptions& options, const std::string& command,
             const std::function<Answer()>& work);

/// A JSON array of values; null for each that is not finite.
Json json_array(const Array& values);
/// A JSON number, or null when it is not finite or not there.
Json json_number(double value);
Json json_number(const std::optional<double>& value);

/// The anchor's frequency, its band as [low, high], or null.
Json anchor_json(const Anchor& anchor);

Json extreme_json(const Extreme& extreme);  ///< its frequency and its decibels

/// "LO-HI" in hertz. Throws InputError naming the flag.
Band parse_band(const std::string& text, const std::string& flag);

}  // namespace ohmtilt::cli
