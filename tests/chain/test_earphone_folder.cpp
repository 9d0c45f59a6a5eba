// Which files of a folder are earphones.
#include <ohmtilt/chain/earphone_folder.h>
#include <ohmtilt/text/error.h>

#include "tests/support.h"

namespace ohmtilt {
namespace {

std::vector<std::string> names(const test::Scratch& folder) {
  std::vector<std::string> result;
  for (const auto& file : earphone_files(folder.folder()))
    result.push_back(file.filename().string());
  return result;
}

using Names = std::vector<std::string>;

TEST(EarphoneFiles, TakesEarphoneFilesBeforeWhatTheyName) {
  const test::Scratch folder;
  folder.write("b.earphone.toml", "impedance = \"measured.csv\"\nresponse = \"level.csv\"\n");
  for (const char* name : {"measured.csv", "level.csv", "a.csv", "c.circuit.toml", "d.S1P"})
    folder.write(name, "x");
  EXPECT_EQ(names(folder), (Names{"a.csv", "b.earphone.toml", "c.circuit.toml", "d.S1P"}));
}

TEST(EarphoneFiles, LeavesOutTheStemOfAnEarphoneFile) {
  const test::Scratch folder;
  // Broken files name nothing; their stems still count.
  folder.write("a.earphone.toml", "= broken");
  for (const char* name : {"a.csv", "a.circuit.toml", "a.response.csv", "a.b.csv"})
    folder.write(name, "x");
  EXPECT_EQ(names(folder), (Names{"a.b.csv", "a.earphone.toml"}));
}

TEST(EarphoneFiles, LeavesOutWhatIsNoEarphone) {
  const test::Scratch folder;
  folder.write(
      "amp.chain.toml",
      "[source]\noutput_curve = \"amp-output.csv\"\n[source.volume]\nlaw = \"table\"\n"
      "file = \"volume.csv\"\n[[stage]]\nkind = \"circuit\"\nfile = \"pad.circuit.toml\"\n");
  folder.write("two.circuit.toml",
               "[[part]]\nname = \"D\"\nkind = \"curve\"\nfile = \"./driver.csv\"\n");
  for (const char* name :
       {"amp-output.csv", "volume.csv", "pad.circuit.toml", "driver.csv", "x.response.csv",
        "README.txt", "license.txt", "README.md", "picture.png", ".hidden.csv", "plain.toml"})
    folder.write(name, "x");
  std::filesystem::create_directory(folder / "folder.csv");
  EXPECT_EQ(names(folder), (Names{"two.circuit.toml"}));
}

TEST(EarphoneFiles, RefusesWhatIsNoFolder) {
  const test::Scratch folder;
  EXPECT_TRUE(earphone_files(folder.folder()).empty());
  EXPECT_THROW(earphone_files(folder / "missing"), InputError);
  EXPECT_THROW(earphone_files(folder.write("a.csv", "x")), InputError);
}

}  // namespace
}  // namespace ohmtilt
