#pragma once
// JSON as the commands build it: an ordered tree of values. It is written in json.cpp, the only
// file that knows the JSON library, which costs each file that includes it seconds.
#include <array>
#include <concepts>
#include <cstdint>
#include <initializer_list>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

namespace ohmtilt::cli {

class Json {
 public:
  class Item;
  using Items = std::initializer_list<Item>;

  Json();  ///< null
  Json(std::nullptr_t);
  template <std::same_as<bool> Value>
  Json(Value value) : Json(Leaf(value)) {}
  template <std::signed_integral Value>
  Json(Value value) : Json(Leaf(std::int64_t{value})) {}
  template <std::unsigned_integral Value>
  requires(!std::same_as<Value, bool>) Json(Value value) : Json(Leaf(std::uint64_t{value})) {}
  template <std::floating_point Value>
  Json(Value value) : Json(Leaf(double{value})) {}
  Json(const char* text);
  Json(std::string_view text);
  Json(std::string text);
  template <class Value>
  Json(const std::vector<Value>& values) : Json(all(values)) {}
  template <class Value, std::size_t size>
  Json(const std::array<Value, size>& values) : Json(all(values)) {}
  // Compiled once, in json.cpp: each file that builds JSON is spared them.
  Json(const Json& other);
  Json(Json&& other) noexcept;
  Json& operator=(const Json& other);
  Json& operator=(Json&& other) noexcept;
  ~Json();
  /// An object where every item is a pair that begins with a text: {{"hz", 20}, {"db", 3}};
  /// an array otherwise.
  Json(Items items);

  static Json array(Items items = {});
  static Json object();

  /// The member of that name, made where there is none; null becomes an object.
  Json& operator[](std::string_view name);
  /// At an array's end; null becomes an array.
  void push_back(Json value);
  /// The last of an array that is not empty.
  Json& back();
  /// Takes over the members of another object.
  void update(const Json& other);

  /// On one line, in UTF-8; a number that is not finite is null. Throws where a text is not UTF-8.
  std::string dump() const;

 private:
  struct Member;
  using List = std::vector<Json>;
  using Members = std::vector<Member>;
  using Leaf = std::variant<std::nullptr_t, bool, std::int64_t, std::uint64_t, double>;
  explicit Json(Leaf leaf);

  template <class Values>
  static Json all(const Values& values) {
    Json json = array();
    for (const auto& value : values) json.push_back(value);
    return json;
  }

  /// Whether it has the form of a member: ["hz", 20].
  bool is_pair() const;
  bool is_leaf() const;
  void write(std::string& text) const;
  friend struct JsonText;

  std::variant<std::nullptr_t, bool, std::int64_t, std::uint64_t, double, std::string, List,
               Members>
      value_;
};

struct Json::Member {
  std::string name;
  Json value;
};

/// What stands between braces: a value, or braces again. A list holds it as a constant, yet it is
/// moved from there: thousands of numbers are not copied.
class Json::Item {
 public:
  template <std::convertible_to<Json> Value>
  Item(Value&& value) : value_(std::forward<Value>(value)) {}
  Item(Items items) : value_(items) {}
  const Json& value() const { return value_; }
  Json take() const { return std::move(value_); }

 private:
  mutable Json value_;
};

/// The JSON library and its version: "nlohmann-json 3.11.2".
std::string json_library();

}  // namespace ohmtilt::cli
