// Text from files and from the command line is shown by a terminal, never obeyed.
#include <gmock/gmock.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/terminal.h>
#include <algorithm>

#include <concepts>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

using cli::Terminal;
using cli::TerminalText;

template <class Text>
concept Printable = requires(Terminal& terminal, const Text& text) {
  terminal << text;
};
static_assert(Printable<TerminalText>);
static_assert(!Printable<std::string> && !Printable<std::string_view> && !Printable<const char*>);
static_assert(!std::convertible_to<std::string, TerminalText>);

/// The UTF-8 of a code point below 0x10000.
std::string utf8(unsigned code) {
  if (code < 0x80) return {static_cast<char>(code)};
  if (code < 0x800)
    return {static_cast<char>(0xc0 | code >> 6), static_cast<char>(0x80 | (code & 63))};
  return {static_cast<char>(0xe0 | code >> 12), static_cast<char>(0x80 | (code >> 6 & 63)),
          static_cast<char>(0x80 | (code & 63))};
}

/// Everything that a terminal may obey: C0, DEL and C1 (ECMA-48), line and paragraph separators,
/// bidirectional marks, embeddings, overrides and isolates (Unicode 15, annex 9, table 4).
std::vector<unsigned> obeyed() {
  std::vector<unsigned> codes{0x7f, 0x61c, 0x200e, 0x200f, 0x2028, 0x2029, 0xfffe};
  for (unsigned code = 1; code < 0x20; ++code) codes.push_back(code);
  for (unsigned code = 0x80; code < 0xa0; ++code) codes.push_back(code);
  for (unsigned code = 0x202a; code <= 0x202e; ++code) codes.push_back(code);
  for (unsigned code = 0x2066; code <= 0x2069; ++code) codes.push_back(code);
  return codes;
}

void expect_shown(const std::string& text, bool lines_end = true) {
  EXPECT_EQ(valid_utf8(text), text);
  for (const unsigned code : obeyed())
    if (code != '\n' || !lines_end) {
      EXPECT_EQ(text.find(utf8(code)), std::string::npos) << std::hex << code;
    }
}

TEST(TerminalTextOf, AnyTextIsShown) {
  for (const unsigned code : obeyed()) {
    const std::string text = "a" + utf8(code) +
                             "b\xff"
                             "c";
    expect_shown(cli::shown(text).bytes());
    expect_shown(one_line(text), false);
    expect_shown(printable(text), false);
    const std::string line = cli::shown_line(text).bytes();
    EXPECT_EQ(line.find('\n'), line.size() - 1);
  }
  EXPECT_EQ(cli::shown("a\nb\n").bytes(), "a\nb\n");
  EXPECT_EQ(cli::shown("caf\xc3\xa9 \xe6\x97\xa5 \xf0\x9f\x8e\xa7").bytes(),
            "caf\xc3\xa9 \xe6\x97\xa5 \xf0\x9f\x8e\xa7");
}

TEST(TerminalTextOf, JsonSaysTheSame) {
  for (const unsigned code : obeyed()) {
    const std::string text = "a" + utf8(code) + "b";
    const std::string shown =
        cli::shown_json(nlohmann::json{{"title", text}}.dump() + "\n").bytes();
    expect_shown(shown);
    EXPECT_EQ(nlohmann::json::parse(shown)["title"], text);
  }
}

/// A title with all of it, as TOML and as a note of a table (which has no line ends).
std::string toml_title() {
  std::string text = "\"evil";
  for (const unsigned code : obeyed()) {
    char escape[8];
    std::snprintf(escape, sizeof escape, "\\u%04X", code);
    text += escape;
  }
  return text + "\\nohmtilt: a line of its own\"";
}

std::string note_title() {
  std::string text = "evil";
  for (const unsigned code : obeyed())
    if (code != '\n' && code != '\r') text += utf8(code);
  return text;
}

/// A demo file under its own name with that title.
std::string evil(const Scratch& scratch, const std::string& name) {
  std::string text = contents(source_dir() / "impedance-curves" / name);
  const std::string key = name.ends_with(".toml") ? "title = " : "# title: ";
  const auto at = text.find(key) + key.size();
  text.replace(at, text.find('\n', at) - at, name.ends_with(".toml") ? toml_title() : note_title());
  return scratch.write(name, text);
}

TEST(HostileTitles, AreShownByEveryCommand) {
  const Scratch scratch;
  const auto name = [&](const char* file) { return evil(scratch, file); };
  const std::string earphone = name("five-armature.earphone.toml");
  name("five-armature.response.csv");
  const std::string curve = name("five-armature.csv"), circuit = name("five-armature.circuit.toml"),
                    on = name("attenuator-engaged.chain.toml"),
                    off = name("bare-output.chain.toml"), page = (scratch / "a.html").string();
  const std::vector<std::vector<std::string>> lines{
      {"deviation", earphone, "--from", off, "--to", on},
      {"deviation", curve, "--to", curve, "--plot", "text"},
      {"damping", circuit, "--from", off, "--to", on},
      {"headroom", on, earphone, "--against", off},
      {"hiss", on, earphone, "--against", off},
      {"crosstalk", off, earphone},
      {"survey", scratch.folder().string(), "--chains", on},
      {"pad", curve, "--source", off, "--attenuation", "10"},
      {"flatten", curve, "--source", on},
      {"equalize", curve, "--from", off, "--to", on},
      {"solve", circuit},
      {"model", curve},
      {"inspect", curve},
      {"report", on, earphone, "-o", page, "--force", "--title", "a\x1b[2J\nb"}};
  for (const auto& line : lines)
    for (const bool json : {false, true}) {
      SCOPED_TRACE(line[0]);
      auto args = line;
      if (json) args.push_back("--json");
      const Ran ran = run(args);
      if (json && line.back() == "text") continue;
      EXPECT_LT(ran.status, 2) << ran.err;
      expect_shown(ran.out);
      expect_shown(ran.err);
      for (const std::string& all : {ran.out, ran.err})
        EXPECT_EQ(("\n" + all).find("\nohmtilt: a line of its own"), std::string::npos);
    }
  std::string html = contents(page);
  std::replace(html.begin(), html.end(), '\t', ' ');  // gnuplot's, between the numbers of a path
  expect_shown(html);
}

/// Messages put keys in backquotes, which the page sets as code.
TEST(HostileTitles, BackquotesMakeNoCodeInThePage) {
  const Scratch scratch;
  std::string text = contents(demo("planar.earphone.toml"));
  text.replace(text.find("title = "),
               text.find('\n', text.find("title = ")) - text.find("title = "),
               "title = \"an `evil` one\"");
  for (const char* name : {"planar.csv", "planar.response.csv"})
    scratch.write(name, contents(demo(name)));
  const auto earphone = scratch.write("a.earphone.toml", text), page = scratch / "a.html";
  const auto chain =
      scratch.write("b.chain.toml", "title = \"a `bad` chain\"\n[source]\noutput_ohm = 5\n");
  const Ran ran = run({"report", chain, earphone, "-o", page, "--title", "the `worst` title"});
  EXPECT_EQ(ran.status, 0) << ran.err;
  const std::string html = contents(page);
  for (const char* word : {"evil", "bad", "worst"}) {
    EXPECT_NE(html.find(word), std::string::npos);
    EXPECT_EQ(html.find(std::string("<code>") + word), std::string::npos);
  }
  EXPECT_NE(html.find("<code>"), std::string::npos);  // of a key that is missing
}

TEST(HostileTitles, AreShownInMessages) {
  const Scratch scratch;
  for (const unsigned code : obeyed()) {
    const std::string evil = "a" + utf8(code) + "b";
    const auto file = scratch.write("a.chain.toml", "[source]\noutput_ohm = \"" + evil + "\"\n");
    for (const Ran& ran :
         {run({"deviation", evil, "--to", "6"}),
          run({"deviation", demo("planar.csv"), "--to", evil}), run({evil}),
          run({"deviation", "--" + evil}), run({"inspect", file}),
          run({"deviation", demo("planar.csv"), "--to", file}),
          run({"solve", demo("planar.circuit.toml"), "--port", evil}),
          run({"deviation", demo("planar.csv"), "--to", "6", "--csv", "/none/" + evil})}) {
      EXPECT_GE(ran.status, 2);
      expect_shown(ran.err);
      EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1) << ran.err;
    }
  }
}

}  // namespace
}  // namespace ohmtilt::test
