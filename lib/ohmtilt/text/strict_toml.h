#pragma once
#include <filesystem>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/text/error.h>

namespace ohmtilt {

struct TomlNode;  // one value of the tree, private to strict_toml.cpp

/// A table of a TOML file, read strictly: every question names the type it expects, and what does
/// not fit throws InputError with file, line, column, the table's name and the key. A cheap view;
/// it keeps the whole file's tree alive.
class TomlTable {
 public:
  /// The same table under the name that messages give it ("part \"R1\"").
  TomlTable named(std::string name) const;
  const std::string& name() const { return name_; }
  const std::string& file() const { return file_; }

  bool has(std::string_view key) const;
  /// In the order in which they stand in the file.
  std::vector<std::string> keys() const;
  /// Where the table begins; where the key's value stands (the table's own place if there is none).
  Place place() const;
  Place place(std::string_view key) const;

  /// Finite numbers. require_ throws when the key is missing; the optional is empty then.
  double require_number(std::string_view key) const;
  double number_or(std::string_view key, double fallback) const;
  std::optional<double> number(std::string_view key) const;
  /// A number in ohm, or an IEC 60062 code in quotes.
  double require_resistance(std::string_view key) const;
  double resistance_or(std::string_view key, double fallback) const;
  /// Text is one line fit to be shown anywhere (one_line()); a file's name is as it stands.
  std::string require_text(std::string_view key) const;
  std::string require_file_name(std::string_view key) const;
  std::string text_or(std::string_view key, std::string fallback) const;
  bool flag_or(std::string_view key, bool fallback) const;
  bool is_text(std::string_view key) const;
  /// Arrays of one type; empty when the key is missing. At most `limit` items.
  std::vector<double> numbers(std::string_view key, std::size_t limit = 1000) const;
  std::vector<std::string> texts(std::string_view key, std::size_t limit = 1000) const;
  std::optional<TomlTable> table(std::string_view key) const;
  std::vector<TomlTable> tables(std::string_view key, std::size_t limit = 1000) const;

  /// Throws at the first key that is not among known, naming the nearest known one.
  void refuse_unknown_keys(const std::vector<std::string>& known) const;
  /// Throws InputError at the key's place: "FILE:L:C: NAME: `key` WRONG; REMEDY".
  [[noreturn]] void refuse(std::string_view key, const std::string& wrong,
                           const std::string& remedy) const;

 private:
  friend TomlTable parse_toml(std::string_view text, std::string file);
  const TomlNode* find(std::string_view key) const;
  const TomlNode& require(std::string_view key) const;
  std::shared_ptr<const TomlNode> root_;
  const TomlNode* node_ = nullptr;
  std::string file_;
  std::string name_;
};

inline constexpr std::size_t toml_byte_limit = 16u << 20;

/// The top table of a TOML text; file is only for messages. Throws InputError for a syntax error
/// (with line and column), a NUL byte, keys nested beyond reason, or more than toml_byte_limit.
TomlTable parse_toml(std::string_view text, std::string file);
/// The same from a file; throws InputError also when it cannot be read.
TomlTable read_toml(const std::filesystem::path& file);

/// text as a TOML basic string, quoted and escaped.
std::string toml_quoted(std::string_view text);
/// A number as a TOML value; a zero without its sign, since TOML reads -0 as a whole number, which
/// has none.
std::string toml_number(double value);

}  // namespace ohmtilt
