// What the commands write is held against the JSON library, which reads it back and writes the
// same.
#include <gtest/gtest.h>

#include <tools/ohmtilt/program/json.h>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <random>

namespace ohmtilt::cli {
namespace {

using Library = nlohmann::ordered_json;

/// The same value in both.
struct Twin {
  Json ours;
  Library library;
};

/// Random values; strings of every character below 128 and some beyond, numbers of every size.
class Random {
 public:
  explicit Random(unsigned seed) : draw_(seed) {}
  Twin value(int depth) {
    switch (below(depth > 0 ? 8 : 6)) {
      case 0:
        return {nullptr, nullptr};
      case 1:
        return boolean();
      case 2:
        return whole();
      case 3:
        return both(unsigned(draw_()));
      case 4:
        return number();
      case 5:
        return text();
      case 6:
        return list(depth);
      default:
        return object(depth);
    }
  }

 private:
  template <class Value>
  static Twin both(const Value& value) {
    return {value, value};
  }
  unsigned below(unsigned end) { return unsigned(draw_() % end); }
  Twin boolean() { return both(below(2) == 1); }
  Twin whole() { return both(static_cast<long>(draw_()) << below(30)); }
  Twin number() {
    constexpr double infinity = std::numeric_limits<double>::infinity();
    const double special[] = {0.0, -0.0, infinity, -infinity, NAN, 1e22, 5e-324, 0.1};
    if (below(4) == 0) return both(special[below(8)]);
    return both(std::ldexp(double(draw_()) / 3 - 1e9, int(below(200)) - 100));
  }
  std::string words() {
    std::string text;
    for (unsigned i = below(12); i > 0; --i)
      text += below(8) == 0 ? std::string("\u00e9\u2126") : std::string(1, char(below(128)));
    return text;
  }
  Twin text() { return both(words()); }
  Twin list(int depth) {
    Twin twin{Json::array(), Library::array()};
    for (unsigned i = below(5); i > 0; --i) {
      Twin item = value(depth - 1);
      twin.ours.push_back(std::move(item.ours));
      twin.library.push_back(std::move(item.library));
    }
    return twin;
  }
  Twin object(int depth) {
    Twin twin{Json::object(), Library::object()};
    for (unsigned i = below(5); i > 0; --i) {
      const std::string name = words();
      Twin item = value(depth - 1);
      twin.ours[name] = std::move(item.ours);
      twin.library[name] = std::move(item.library);
    }
    return twin;
  }
  std::mt19937 draw_;
};

TEST(Json, IsWrittenAsTheLibraryWritesIt) {
  for (unsigned seed = 0; seed < 500; ++seed) {
    const Twin twin = Random(seed).value(4);
    EXPECT_EQ(twin.ours.dump(), twin.library.dump()) << "seed " << seed;
  }
}

/// One definition with braces for both types.
template <class Type>
Type braced() {
  Type made{{"text", "a"},
            {"pairs", {{"x", 1}, {"y", 2.0}}},
            {"list", {1, 2, 3}},
            {"words", std::vector<std::string>{"a", "b"}},
            {"rows", {{1, 2}, {3, 4}}},
            {"none", nullptr},
            {"one", Type::array({1.5})},
            {"empty", Type::array()}};
  made["later"] = {{"z", true}};
  made["rows"].back().push_back({{"deep", 7u}});
  made.update({{"text", "b"}, {"new", 1}});
  return made;
}

TEST(Json, BracesMeanWhatTheyMeanToTheLibrary) {
  EXPECT_EQ(braced<Json>().dump(), braced<Library>().dump());
}

TEST(Json, RefusesTextThatIsNotUtf8) { EXPECT_ANY_THROW(Json("\xff").dump()); }

}  // namespace
}  // namespace ohmtilt::cli
