// impedance-curves/FILES.md, which tells users of the files: its examples are read, and it
// names every key that the readers take.
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/chain_keys.h>
#include <ohmtilt/circuit/part_rules.h>
#include <ohmtilt/circuit/tolerance_detail.h>

#include <regex>
#include <set>
#include <sstream>

#include "tests/cli/program.h"

namespace ohmtilt::test {
namespace {

std::string page() { return contents(source_dir() / "impedance-curves/FILES.md"); }

/// The indented blocks, without their indent.
std::vector<std::string> blocks_of_page() {
  std::vector<std::string> blocks;
  bool inside = false;
  std::istringstream lines(page());
  for (std::string line; std::getline(lines, line); inside = line.starts_with("    ")) {
    if (!line.starts_with("    ")) continue;
    if (!inside) blocks.emplace_back();
    blocks.back() += line.substr(4) + "\n";
  }
  return blocks;
}

/// Words in backquotes.
std::set<std::string> words() {
  const std::string text = page();
  const std::regex quoted("`([^`]+)`");
  std::set<std::string> found;
  for (std::sregex_iterator it(text.begin(), text.end(), quoted), end; it != end; ++it)
    found.insert((*it)[1]);
  return found;
}

/// All that stands in quotes between refuse_unknown_keys({ and }), the keys a reader takes.
std::set<std::string> keys_taken(const std::string& file) {
  const std::string text = contents(source_dir() / "lib/ohmtilt" / file);
  const std::regex list("refuse_unknown_keys\\(\\s*(?:with\\(\\s*)?\\{([^}]*)\\}"),
      quoted("\"([^\"]+)\"");
  std::set<std::string> keys;
  for (std::sregex_iterator it(text.begin(), text.end(), list), end; it != end; ++it) {
    const std::string inside = (*it)[1];
    for (std::sregex_iterator key(inside.begin(), inside.end(), quoted); key != end; ++key)
      keys.insert((*key)[1]);
  }
  return keys;
}

TEST(FilesPage, ExamplesAreRead) {
  const auto blocks = blocks_of_page();
  ASSERT_EQ(blocks.size(), 5u);
  const Scratch scratch;
  scratch.write("two-way-armature.csv", blocks[0]);
  scratch.write("two-way-armature.response.csv",
                "frequency_hz,magnitude_db\n20,100\n1000,100\n20000,90\n");
  scratch.write("a.earphone.toml", blocks[1]);
  scratch.write("a.chain.toml", blocks[2]);
  scratch.write("network.chain.toml", blocks[3]);
  scratch.write("network.circuit.toml", blocks[4]);
  for (const char* chain : {"a.chain.toml", "network.chain.toml"}) {
    const Ran ran =
        run({"deviation", scratch / "a.earphone.toml", "--to", scratch / chain, "--json"});
    EXPECT_EQ(ran.status, 0) << ran.err;
  }
  for (const char* command : {"headroom", "hiss", "crosstalk"}) {
    const Ran ran = run({command, scratch / "a.chain.toml", scratch / "a.earphone.toml"});
    EXPECT_EQ(ran.status, 0) << ran.err;
  }
}

TEST(FilesPage, NamesEveryKey) {
  const auto named = words();
  std::string text = page();
  const auto expect_named = [&](const std::string& key) {
    EXPECT_TRUE(named.count(key) || named.count("[" + key + "]") ||
                text.find("\n    " + key + " = ") != std::string::npos ||
                text.find("[[" + key + "]]") != std::string::npos)
        << key;
  };
  for (const auto& kind : kind_names()) {
    expect_named(kind);
    for (const auto& value : rule_of(*kind_of_name(kind)).values)
      expect_named(std::string(value.key));
    for (const auto& value : rule_of(*kind_of_name(kind)).resonance)
      expect_named(std::string(value.key));
  }
  for (const auto& kind : stage_kind_names()) expect_named(kind);
  for (const auto& name : topology_names()) expect_named(name);
  for (const auto& key : tolerance_detail_keys(true)) expect_named(key);
  const auto expect_all_named = [&](const auto& keys) {
    for (const auto& key : keys) expect_named(key.key);
  };
  expect_all_named(chain_keys<Source>);
  expect_all_named(chain_keys<SeriesStage>);
  expect_all_named(chain_keys<Cable>);
  expect_all_named(chain_keys<TransformerStage>);
  for (const char* key : {"law", "step_db"}) expect_named(key);  // of a volume, whose keys depend
  for (const char* file :
       {"chain/read_chain.cpp", "chain/read_earphone.cpp", "circuit/read_circuit.cpp"}) {
    const auto keys = keys_taken(file);
    EXPECT_GE(keys.size(), 4u) << file;
    if (std::string(file) == "chain/read_chain.cpp") {
      for (const char* key : {"load_ohm", "output_curve", "topology", "travel_percent"})
        EXPECT_TRUE(keys.count(key)) << key << " is not found in the source";
    }
    for (const auto& key : keys)
      if (key != "source" && key != "part" && key != "stage" && key != "power" && key != "volume")
        expect_named(key);
  }
}

}  // namespace
}  // namespace ohmtilt::test
