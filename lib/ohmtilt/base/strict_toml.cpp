#include <ohmtilt/base/input_file.h>
#include <ohmtilt/base/resistor_code.h>
#include <ohmtilt/base/strict_toml.h>
#include <ohmtilt/base/text.h>

// toml++ 3.3 assumes that a key follows "[" and lets the compiler rely on it, but a file may say
// "[."; its next lines refuse that properly once the assumption is gone.
#include <toml++/impl/preprocessor.h>
#undef TOML_ASSERT_ASSUME
#define TOML_ASSERT_ASSUME(expression) static_assert(true)
#include <toml++/toml.h>

#include <algorithm>
#include <cmath>
#include <utility>

namespace ohmtilt {

enum class TomlType { number, text, flag, array, table, date };

struct TomlMember;

struct TomlNode {
  TomlType type = TomlType::date;
  double number = 0;
  bool flag = false;
  std::string text;
  std::vector<TomlNode> items;
  std::vector<TomlMember> members;  // in the order of the file
  long line = 0, column = 0;
};

struct TomlMember {
  std::string key;
  long line = 0, column = 0;  // of the key
  TomlNode value;
};

namespace {

const char* type_name(TomlType type) {
  switch (type) {
    case TomlType::number:
      return "a number";
    case TomlType::text:
      return "text in quotes";
    case TomlType::flag:
      return "true or false";
    case TomlType::array:
      return "an array";
    case TomlType::table:
      return "a table";
    case TomlType::date:
      break;
  }
  return "a date or time";
}

TomlNode converted(const toml::node& node);

void convert_members(const toml::table& table, TomlNode& into) {
  for (const auto& [key, value] : table) {
    const auto& at = key.source().begin;
    into.members.push_back({std::string(key.str()), static_cast<long>(at.line),
                            static_cast<long>(at.column), converted(value)});
  }
  // toml++ sorts by name; the order of the file says which port is the default.
  std::stable_sort(into.members.begin(), into.members.end(), [](const auto& a, const auto& b) {
    return std::pair(a.line, a.column) < std::pair(b.line, b.column);
  });
}

TomlNode converted(const toml::node& node) {
  TomlNode result;
  result.line = static_cast<long>(node.source().begin.line);
  result.column = static_cast<long>(node.source().begin.column);
  if (const auto* integer = node.as_integer()) {
    result.type = TomlType::number;
    result.number = static_cast<double>(integer->get());
  } else if (const auto* real = node.as_floating_point()) {
    result.type = TomlType::number;
    result.number = real->get();
  } else if (const auto* text = node.as_string()) {
    result.type = TomlType::text;
    result.text = text->get();
  } else if (const auto* flag = node.as_boolean()) {
    result.type = TomlType::flag;
    result.flag = flag->get();
  } else if (const auto* array = node.as_array()) {
    result.type = TomlType::array;
    for (const toml::node& item : *array) result.items.push_back(converted(item));
  } else if (const auto* table = node.as_table()) {
    result.type = TomlType::table;
    convert_members(*table, result);
  }
  return result;
}

Place place_of_byte(std::string_view text, std::size_t at, const std::string& file) {
  const auto before = text.substr(0, at);
  const auto line_start = before.rfind('\n') == std::string_view::npos ? 0 : before.rfind('\n') + 1;
  return {file, 1 + std::count(before.begin(), before.end(), '\n'),
          static_cast<long>(at - line_start + 1)};
}

// Each dot of a dotted key is a table inside a table; a long chain would exhaust the stack.
void refuse_deep_keys(std::string_view text, const std::string& file) {
  constexpr int deepest = 100;
  int dots = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '.') ++dots;
    const bool part_of_key = std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_' ||
                             c == '-' || c == '"' || c == '\'' || c == ' ' || c == '\t' || c == '.';
    if (!part_of_key) dots = 0;
    if (dots > deepest)
      throw InputError(place_of_byte(text, i, file), "keys are nested too deep",
                       "write tables as the format describes them");
  }
}

void refuse_unreadable_text(std::string_view text, const std::string& file) {
  if (text.size() > toml_byte_limit)
    throw InputError(Place{file}, "the file is larger than 16 MB", "split it");
  if (const auto nul = text.find('\0'); nul != std::string_view::npos)
    throw InputError(place_of_byte(text, nul, file), "the file holds a NUL byte",
                     "save it as UTF-8 text");
  refuse_deep_keys(text, file);
}

}  // namespace

TomlTable parse_toml(std::string_view text, std::string file) {
  refuse_unreadable_text(text, file);
  try {
    TomlTable table;
    table.root_ = std::make_shared<const TomlNode>(converted(toml::parse(text, file)));
    table.node_ = table.root_.get();
    table.file_ = std::move(file);
    return table;
  } catch (const toml::parse_error& error) {
    const auto& at = error.source().begin;
    throw InputError(Place{file, static_cast<long>(at.line), static_cast<long>(at.column)},
                     "this is not TOML (" + printable(error.description()) + ")",
                     "see https://toml.io");
  }
}

TomlTable read_toml(const std::filesystem::path& file) {
  return parse_toml(read_text_file(file, {.most_bytes = toml_byte_limit}), file.string());
}

TomlTable TomlTable::named(std::string name) const {
  TomlTable table = *this;
  table.name_ = std::move(name);
  return table;
}

const TomlNode* TomlTable::find(std::string_view key) const {
  for (const auto& member : node_->members)
    if (member.key == key) return &member.value;
  return nullptr;
}

bool TomlTable::has(std::string_view key) const { return find(key) != nullptr; }

std::vector<std::string> TomlTable::keys() const {
  std::vector<std::string> result;
  for (const auto& member : node_->members) result.push_back(member.key);
  return result;
}

Place TomlTable::place() const { return {file_, std::max(node_->line, 1L), node_->column}; }

Place TomlTable::place(std::string_view key) const {
  const TomlNode* node = find(key);
  return node == nullptr ? place() : Place{file_, node->line, node->column};
}

void TomlTable::refuse(std::string_view key, const std::string& wrong,
                       const std::string& remedy) const {
  const std::string who = name_.empty() ? "" : printable(name_) + ": ";
  throw InputError(place(key), who + "`" + printable(key, 60) + "` " + wrong, remedy);
}

const TomlNode& TomlTable::require(std::string_view key) const {
  const TomlNode* node = find(key);
  if (node == nullptr) refuse(key, "is missing", "add it");
  return *node;
}

namespace {

std::string expected(TomlType wanted, const TomlNode& found) {
  return std::string("should be ") + type_name(wanted) + " and is " + type_name(found.type);
}

}  // namespace

double TomlTable::require_number(std::string_view key) const {
  const TomlNode& node = require(key);
  if (node.type != TomlType::number)
    refuse(key, expected(TomlType::number, node), "write a number");
  if (!std::isfinite(node.number)) refuse(key, "is not finite", "write a finite number");
  return node.number;
}

std::optional<double> TomlTable::number(std::string_view key) const {
  if (!has(key)) return std::nullopt;
  return require_number(key);
}

double TomlTable::number_or(std::string_view key, double fallback) const {
  return number(key).value_or(fallback);
}

double TomlTable::require_resistance(std::string_view key) const {
  const TomlNode& node = require(key);
  if (node.type != TomlType::text) return require_number(key);
  try {
    return parse_resistance_code(node.text);
  } catch (const InputError&) {
    refuse(key, "is no resistance code: \"" + printable(node.text, 40) + "\"",
           "write ohms as a number, or a code like \"4R7\" or \"4k7\"");
  }
}

double TomlTable::resistance_or(std::string_view key, double fallback) const {
  return has(key) ? require_resistance(key) : fallback;
}

std::string TomlTable::require_text(std::string_view key) const {
  const TomlNode& node = require(key);
  if (node.type != TomlType::text) refuse(key, expected(TomlType::text, node), "put it in quotes");
  return node.text;
}

std::string TomlTable::text_or(std::string_view key, std::string fallback) const {
  return has(key) ? require_text(key) : fallback;
}

bool TomlTable::is_text(std::string_view key) const {
  const TomlNode* node = find(key);
  return node != nullptr && node->type == TomlType::text;
}

bool TomlTable::flag_or(std::string_view key, bool fallback) const {
  const TomlNode* node = find(key);
  if (node == nullptr) return fallback;
  if (node->type != TomlType::flag)
    refuse(key, expected(TomlType::flag, *node), "write true or false");
  return node->flag;
}

namespace {

// The items of an array of one type; refuse is called with what is wrong.
template <class Refuse>
const std::vector<TomlNode>& items_of(const TomlNode& node, TomlType type, std::size_t limit,
                                      const Refuse& refuse) {
  if (node.type != TomlType::array) refuse(expected(TomlType::array, node));
  if (node.items.size() > limit) refuse("has more than " + std::to_string(limit) + " items");
  for (const auto& item : node.items)
    if (item.type != type)
      refuse(std::string("should hold ") + type_name(type) + " in each place and has " +
             type_name(item.type));
  return node.items;
}

}  // namespace

std::vector<double> TomlTable::numbers(std::string_view key, std::size_t limit) const {
  std::vector<double> result;
  if (!has(key)) return result;
  const auto wrong = [&](const std::string& what) { refuse(key, what, "write [1, 2, 3]"); };
  for (const auto& item : items_of(require(key), TomlType::number, limit, wrong)) {
    if (!std::isfinite(item.number)) wrong("holds a number that is not finite");
    result.push_back(item.number);
  }
  return result;
}

std::vector<std::string> TomlTable::texts(std::string_view key, std::size_t limit) const {
  std::vector<std::string> result;
  if (!has(key)) return result;
  const auto wrong = [&](const std::string& what) { refuse(key, what, "write [\"a\", \"b\"]"); };
  for (const auto& item : items_of(require(key), TomlType::text, limit, wrong))
    result.push_back(item.text);
  return result;
}

std::optional<TomlTable> TomlTable::table(std::string_view key) const {
  const TomlNode* node = find(key);
  if (node == nullptr) return std::nullopt;
  if (node->type != TomlType::table)
    refuse(key, expected(TomlType::table, *node), "write it as [" + printable(key, 60) + "]");
  TomlTable inner = named(std::string(key));
  inner.node_ = node;
  return inner;
}

std::vector<TomlTable> TomlTable::tables(std::string_view key, std::size_t limit) const {
  std::vector<TomlTable> result;
  if (!has(key)) return result;
  const std::string remedy = "begin each with [[" + printable(key, 60) + "]]";
  const auto wrong = [&](const std::string& what) { refuse(key, what, remedy); };
  for (const auto& item : items_of(require(key), TomlType::table, limit, wrong)) {
    TomlTable inner = named(std::string(key) + " " + std::to_string(result.size() + 1));
    inner.node_ = &item;
    result.push_back(std::move(inner));
  }
  return result;
}

void TomlTable::refuse_unknown_keys(const std::vector<std::string>& known) const {
  for (const auto& member : node_->members) {
    if (std::find(known.begin(), known.end(), member.key) != known.end()) continue;
    const auto nearest = nearest_word(member.key, known);
    const std::string who = name_.empty() ? "" : printable(name_) + ": ";
    throw InputError(Place{file_, member.line, member.column},
                     who + "unknown key `" + printable(member.key, 60) + "`",
                     nearest ? "did you mean `" + *nearest + "`?" : "known are " + listed(known));
  }
}

std::string toml_quoted(std::string_view text) {
  static constexpr char hex[] = "0123456789ABCDEF";
  std::string result = "\"";
  for (const char c : valid_utf8(text)) {
    const auto byte = static_cast<unsigned char>(c);
    if (c == '"' || c == '\\') result += '\\';
    if (byte < 0x20 || byte == 0x7f)
      result += std::string("\\u00") + hex[byte >> 4] + hex[byte & 15];
    else
      result += c;
  }
  return result + '"';
}

}  // namespace ohmtilt
