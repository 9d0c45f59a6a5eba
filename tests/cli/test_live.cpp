// The live command: what it puts into the page, and what it refuses. The page itself is built by
// emscripten and tested in a browser by tools/check-live.
#include <regex>

#include "tests/cli/live_template.h"
#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

struct WrittenPage {
  Ran ran;
  std::string page;
  /// What the page carries, as its script reads it.
  OrderedJson given() const {
    const std::string start = "id=\"given\">";
    const auto from = page.find(start) + start.size();
    return OrderedJson::parse(page.substr(from, page.find("</script>", from) - from));
  }
};

WrittenPage live(std::vector<std::string> args) {
  const Scratch scratch;
  const auto template_file = scratch.write("template.html", live_template());
  args.insert(args.begin(), "live");
  args.insert(args.end(), {"-o", (scratch / "live.html").string(), "--template", template_file});
  const Ran ran = run(args);
  return {ran, contents(scratch / "live.html")};
}

/// RFC 4648, section 4, the slow way.
std::string decoded(const std::string& base64) {
  const std::string alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string bytes;
  unsigned bits = 0;
  int held = 0;
  for (const char c : base64) {
    if (c == '=') break;
    bits = bits << 6 | static_cast<unsigned>(alphabet.find(c));
    held += 6;
    if (held < 8) continue;
    held -= 8;
    bytes += static_cast<char>(bits >> held & 0xff);
  }
  return bytes;
}

std::vector<std::string> names(const OrderedJson& files) {
  std::vector<std::string> result;
  for (const auto& file : files) result.push_back(file["name"]);
  std::sort(result.begin(), result.end());
  return result;
}

TEST(LiveCommand, HasTheDocumentedKeys) {
  const auto written = live({engaged, pair, "--json"});
  ASSERT_EQ(written.ran.status, 0) << written.ran.err;
  EXPECT_EQ(keys(written.ran.json()),
            (std::vector<std::string>{"tool", "version", "command", "page", "bytes", "earphones",
                                      "sources", "warnings"}));
  EXPECT_EQ(written.ran.json()["bytes"], written.page.size());
}

TEST(LiveCommand, CarriesEveryFileThatWasReadByItsNameAlone) {
  const auto written = live({engaged, pair});
  const OrderedJson given = written.given();
  EXPECT_EQ(names(given["files"]),
            (std::vector<std::string>{"attenuator-engaged.chain.toml", "two-way-armature.csv",
                                      "two-way-armature.earphone.toml",
                                      "two-way-armature.response.csv"}));
  for (const auto& file : given["files"])
    EXPECT_EQ(decoded(file["bytes"]), contents(demo(file["name"]))) << file["name"];
  EXPECT_EQ(given["earphones"], OrderedJson::array({"two-way-armature.earphone.toml"}));
  EXPECT_EQ(given["sources"], OrderedJson::array({"attenuator-engaged.chain.toml"}));
  EXPECT_EQ(written.page.find(source_dir().string()), std::string::npos);
}

TEST(LiveCommand, NamesFilesBelowTheFolderThatHoldsThemAll) {
  const Scratch scratch;
  std::filesystem::create_directories(scratch / "a");
  std::filesystem::create_directories(scratch / "b/c");
  std::filesystem::copy_file(demo("planar.csv"), scratch / "a/one.csv");
  std::filesystem::copy_file(demo("planar.csv"), scratch / "b/c/one.csv");
  const auto written =
      live({(scratch / "a/one.csv").string(), (scratch / "a/../b/c/one.csv").string()});
  EXPECT_EQ(names(written.given()["files"]),
            (std::vector<std::string>{"a/one.csv", "b/c/one.csv"}));
}

TEST(LiveCommand, StartsWithWhatIsAsked) {
  const auto written =
      live({"47", engaged, pair, "--from", "0.3", "--to", engaged, "--limit-db", "2"});
  const OrderedJson start = written.given()["start"];
  EXPECT_EQ(start["from"], "0.3");
  EXPECT_EQ(start["to"], "file attenuator-engaged.chain.toml");
  EXPECT_EQ(start["kept"], OrderedJson::array({"47"}));
  EXPECT_EQ(start["limit"], "2");
}

TEST(LiveCommand, SaysWithoutAScriptWhatDeviationSays) {
  const auto page = live({pair, "--from", "0.3", "--to", "6"}).page;
  std::istringstream text(run({"deviation", pair, "--from", "0.3", "--to", "6"}).out);
  std::string line, sentence;
  while (std::getline(text, line))
    if (line.starts_with("The response ")) sentence = line;
  ASSERT_NE(sentence, "");
  EXPECT_NE(page.find(sentence), std::string::npos);
}

TEST(LiveCommand, ShowsTextOfFilesAsText) {
  const Scratch scratch;
  std::filesystem::copy_file(demo("planar.csv"), scratch / "planar.csv");
  const std::string title = "</script><!--ohmtilt:given--><img src=x onerror=alert(1)> & \"";
  const auto file = scratch.write("hostile.earphone.toml", "title = " + OrderedJson(title).dump() +
                                                               "\nimpedance = \"planar.csv\"\n");
  const auto written = live({file.string(), "--title", title});
  ASSERT_EQ(written.ran.status, 0) << written.ran.err;
  EXPECT_EQ(written.page.find("<img"), std::string::npos);
  EXPECT_EQ(written.given()["title"], title);
  const std::regex script("<script|</script");
  EXPECT_EQ(std::distance(std::sregex_iterator(written.page.begin(), written.page.end(), script),
                          std::sregex_iterator()),
            2);
}

TEST(LiveCommand, LeavesOutAFileOfAFolderThatCannotBeRead) {
  const Scratch scratch;
  std::filesystem::copy_file(demo("planar.csv"), scratch / "planar.csv");
  scratch.write("broken.csv", "this is no table\n");
  const auto written = live({scratch.folder().string()});
  EXPECT_EQ(written.ran.status, 0);
  EXPECT_NE(written.ran.err.find("left out: "), std::string::npos) << written.ran.err;
  EXPECT_EQ(written.given()["earphones"], OrderedJson::array({"planar.csv"}));
  expect_refused(live({(scratch / "broken.csv").string()}).ran, "broken.csv");
}

TEST(LiveCommand, SaysHowToGetItsTemplate) {
  const Scratch scratch;
  const std::string page = (scratch / "page.html").string();
  expect_refused(run({"live", pair, "-o", page, "--template", (scratch / "none.html").string()}),
                 "there is no such file");
  const auto old = scratch.write("old.html", live_template("0.0.1"));
  expect_refused(run({"live", pair, "-o", page, "--template", old.string()}), "is not of version");
  const auto other = scratch.write("other.html", "<html></html>");
  expect_refused(run({"live", pair, "-o", page, "--template", other.string()}), "has no <!--");
  EXPECT_FALSE(std::filesystem::exists(page));
}

TEST(LiveCommand, RefusesWhatMakesNoPage) {
  expect_refused(live({"6"}).ran, "there is no earphone");
  expect_refused(live({"six", pair}).ran, "neither a resistance nor a file");
  expect_refused(live({pair, "--limit-db", "0"}).ran, "leaves no room");
  expect_refused(run({"live", pair, "-o", "page.txt"}), "end it in .html or .htm");
}

TEST(LiveCommand, ReplacesNoPageUnasked) {
  const Scratch scratch;
  const auto template_file = scratch.write("template.html", live_template());
  const auto page = scratch.write("page.html", "mine");
  const std::vector<std::string> args{"live",        pair,         "-o",
                                      page.string(), "--template", template_file.string()};
  EXPECT_EQ(run(args).status, 3);
  EXPECT_EQ(contents(page), "mine");
  auto forced = args;
  forced.push_back("--force");
  EXPECT_EQ(run(forced).status, 0);
  forced[3] = template_file.string();
  EXPECT_EQ(run(forced).status, 2);
  EXPECT_EQ(contents(template_file), live_template());
}

}  // namespace
}  // namespace ohmtilt::test
