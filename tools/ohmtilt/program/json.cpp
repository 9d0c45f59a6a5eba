#include <tools/ohmtilt/program/json.h>
#include <algorithm>
#include <nlohmann/json.hpp>

namespace ohmtilt::cli {

/// What the library makes of single values and of flat arrays.
struct JsonText {
  using Library = nlohmann::ordered_json;

  static Library leaf(const Json& json) {
    return std::visit(
        [](const auto& value) -> Library {
          if constexpr (std::constructible_from<Library, decltype(value)> &&
                        !std::same_as<std::decay_t<decltype(value)>, Json::List> &&
                        !std::same_as<std::decay_t<decltype(value)>, Json::Members>)
            return value;
          else
            return nullptr;
        },
        json.value_);
  }

  static std::string flat(const Json::List& list) {
    Library array = Library::array();
    for (const Json& json : list) array.push_back(leaf(json));
    return array.dump();
  }
};

namespace {

template <class Values, class Write>
void enclosed(std::string& text, const char* ends, const Values& values, const Write& write) {
  text += ends[0];
  bool first = true;
  for (const auto& value : values) {
    if (!first) text += ',';
    first = false;
    write(value);
  }
  text += ends[1];
}

}  // namespace

Json::Json() = default;
Json::Json(const Json& other) = default;
Json::Json(Json&& other) noexcept = default;
Json& Json::operator=(const Json& other) = default;
Json& Json::operator=(Json&& other) noexcept = default;
Json::~Json() = default;

Json::Json(Leaf leaf) {
  std::visit([this](auto value) { value_ = value; }, leaf);
}

Json::Json(std::nullptr_t) {}

Json::Json(const char* text) : value_(std::string(text)) {}

Json::Json(std::string_view text) : value_(std::string(text)) {}

Json::Json(std::string text) : value_(std::move(text)) {}

bool Json::is_leaf() const {
  return !std::holds_alternative<List>(value_) && !std::holds_alternative<Members>(value_);
}

bool Json::is_pair() const {
  const auto* list = std::get_if<List>(&value_);
  return list && list->size() == 2 && std::holds_alternative<std::string>(list->front().value_);
}

Json::Json(Items items) {
  const bool object = std::all_of(items.begin(), items.end(),
                                  [](const Item& item) { return item.value().is_pair(); });
  if (!object) {
    *this = array(items);
    return;
  }
  *this = Json::object();
  for (const Item& item : items) {
    Json pair = item.take();
    auto& list = std::get<List>(pair.value_);
    (*this)[std::get<std::string>(list[0].value_)] = std::move(list[1]);
  }
}

Json Json::array(Items items) {
  List list;
  list.reserve(items.size());
  for (const Item& item : items) list.push_back(item.take());
  Json json;
  json.value_ = std::move(list);
  return json;
}

Json Json::object() {
  Json json;
  json.value_ = Members();
  return json;
}

Json& Json::operator[](std::string_view name) {
  if (std::holds_alternative<std::nullptr_t>(value_)) value_ = Members();
  auto& members = std::get<Members>(value_);
  const auto found = std::find_if(members.begin(), members.end(),
                                  [&](const Member& member) { return member.name == name; });
  if (found != members.end()) return found->value;
  members.push_back({std::string(name), Json()});
  return members.back().value;
}

void Json::push_back(Json value) {
  if (std::holds_alternative<std::nullptr_t>(value_)) value_ = List();
  std::get<List>(value_).push_back(std::move(value));
}

Json& Json::back() { return std::get<List>(value_).back(); }

void Json::update(const Json& other) {
  if (std::holds_alternative<std::nullptr_t>(value_)) value_ = Members();
  for (const auto& member : std::get<Members>(other.value_)) (*this)[member.name] = member.value;
}

void Json::write(std::string& text) const {
  if (const auto* members = std::get_if<Members>(&value_)) {
    enclosed(text, "{}", *members, [&](const Member& member) {
      text += JsonText::Library(member.name).dump() + ':';
      member.value.write(text);
    });
  } else if (const auto* list = std::get_if<List>(&value_)) {
    if (std::all_of(list->begin(), list->end(), [](const Json& json) { return json.is_leaf(); }))
      text += JsonText::flat(*list);
    else
      enclosed(text, "[]", *list, [&](const Json& json) { json.write(text); });
  } else {
    text += JsonText::leaf(*this).dump();
  }
}

std::string Json::dump() const {
  std::string text;
  write(text);
  return text;
}

std::string json_library() {
  return "nlohmann-json " + std::to_string(NLOHMANN_JSON_VERSION_MAJOR) + "." +
         std::to_string(NLOHMANN_JSON_VERSION_MINOR) + "." +
         std::to_string(NLOHMANN_JSON_VERSION_PATCH);
}

}  // namespace ohmtilt::cli
