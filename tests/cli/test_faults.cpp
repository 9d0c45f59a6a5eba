// What can go wrong around the real program: disks, folders, signals, gnuplot, pipes, locales,
// names. Each time: the right status, one sentence, nothing lost, no half file.
#include <algorithm>
#include <chrono>
#include <thread>

#include <gmock/gmock.h>
#include <ohmtilt/text/text.h>
#include <unistd.h>

#include "tests/cli/shell.h"

namespace ohmtilt::test {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;
using testing::SizeIs;

/// The main job on a demo file.
const std::string job =
    "ohmtilt deviation " + word(demo("two-way-armature.csv")) + " --from 0.3 --to 6 ";

/// A job that could not give an output: status 3, one sentence saying why.
void expect_not_written(const Ran& ran, const std::string& why) {
  EXPECT_EQ(ran.status, 3) << ran.err;
  EXPECT_EQ(ran.err.rfind("ohmtilt: ", 0), 0u) << ran.err;
  EXPECT_THAT(ran.err, HasSubstr(why));
  EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1) << ran.err;
}

/// The answer on standard output comes whatever happens to the files.
void expect_answered(const Ran& ran) { EXPECT_THAT(ran.out, HasSubstr("a span of 2.03 dB")); }

bool may_mount() { return shell("/", "unshare -rm true").status == 0; }

/// Runs commands where ./mounted is a small tmpfs with the given options.
Ran shell_with_mount(const Scratch& scratch, const std::string& options,
                     const std::string& commands) {
  std::filesystem::create_directory(scratch / "mounted");
  return shell(scratch.folder(), "exec unshare -rm sh -c " + word("mount -t tmpfs -o " + options +
                                                                  " none mounted && " + commands));
}

// ---- disks and folders -------------------------------------------------------------------------

TEST(Faults, AFullDiskKeepsTheOldFileAndTheAnswer) {
  if (!may_mount()) GTEST_SKIP() << "no user namespace with mounts is allowed here";
  const Scratch scratch;
  const Ran ran = shell_with_mount(scratch, "size=24k",
                                   "echo old >mounted/a.csv; " + job +
                                       "--points 20000 --csv mounted/a.csv --force; status=$?; "
                                       "test \"$(cat mounted/a.csv)\" = old || exit 90; "
                                       "test \"$(ls -A mounted)\" = a.csv || exit 91; "
                                       "exit $status");
  expect_not_written(ran, "the disk is full");
  expect_answered(ran);
}

TEST(Faults, AFullDiskLeavesNoHalfFigure) {
  if (!may_mount()) GTEST_SKIP() << "no user namespace with mounts is allowed here";
  const Scratch scratch;
  const Ran ran = shell_with_mount(
      scratch, "size=24k",
      job +
          "--plot mounted/a.svg; status=$?; test -z \"$(ls -A mounted)\" || exit 91; "
          "exit $status");
  expect_not_written(ran, "the disk is full");
  expect_answered(ran);
}

TEST(Faults, AFolderThatCanOnlyBeRead) {
  if (!may_mount()) GTEST_SKIP() << "no user namespace with mounts is allowed here";
  const Scratch scratch;
  const Ran ran = shell_with_mount(scratch, "ro", job + "--csv mounted/a.csv");
  expect_not_written(ran, "can only be read");
  expect_answered(ran);
}

TEST(Faults, AFolderThatIsNotMine) {
  const std::string as_nobody =
      ::geteuid() == 0 ? "exec setpriv --reuid=65534 --regid=65534 --clear-groups " : "";
  const Scratch scratch;
  if (shell(scratch.folder(), as_nobody + "ohmtilt --version").status != 0)
    GTEST_SKIP() << "root may write everywhere, and the program cannot be run as another user";
  std::filesystem::permissions(scratch.folder(), static_cast<std::filesystem::perms>(0555));
  const Ran ran = shell(scratch.folder(), as_nobody + job + "--csv a.csv");
  std::filesystem::permissions(scratch.folder(), std::filesystem::perms::owner_all);
  expect_not_written(ran, "you may not write");
  expect_answered(ran);
}

TEST(Faults, AFileThatGrowsBeyondItsLimit) {
  const Scratch scratch;
  scratch.write("a.csv", "old");
  const Ran ran = shell(scratch.folder(), "ulimit -f 8; " + job + "--csv a.csv --force");
  expect_not_written(ran, "ulimit -f");
  EXPECT_EQ(contents(scratch / "a.csv"), "old");
  EXPECT_THAT(left_over(scratch.folder()), IsEmpty());
}

TEST(Faults, AnOutputThatIsADirectoryOrInNone) {
  const Scratch scratch;
  std::filesystem::create_directory(scratch / "folder.svg");
  for (const char* option : {"--csv", "--plot", "--draw"}) {
    const std::string chain = "--from 1 --to " + word(demo("attenuator-engaged.chain.toml")) + " ";
    const std::string run_it =
        "ohmtilt deviation " + word(demo("planar.csv")) + " " + chain + option;
    expect_not_written(shell(scratch.folder(), run_it + " folder.svg --force"), "directory");
    expect_not_written(shell(scratch.folder(), run_it + " none/a.svg"), "folder does not exist");
    expect_not_written(shell(scratch.folder(), run_it + " /dev/null.svg/a.svg"), "folder");
  }
  EXPECT_THAT(left_over(scratch.folder()), IsEmpty());
  expect_not_written(shell(scratch.folder(), job + "--csv /dev/null --force"), "device");
}

TEST(Faults, OneOutputThatFailsKeepsTheOthers) {
  const Scratch scratch;
  const Ran ran =
      shell(scratch.folder(), job + "--csv none/a.csv --plot a.svg --plot none/b.svg --plot c.svg");
  EXPECT_EQ(ran.status, 3);
  expect_answered(ran);
  EXPECT_THAT(contents(scratch / "a.svg"), HasSubstr("</svg>"));
  EXPECT_THAT(contents(scratch / "c.svg"), HasSubstr("</svg>"));
}

// ---- signals and gnuplot -----------------------------------------------------------------------

/// A folder with a program `gnuplot` that does what script says.
void fake_gnuplot(const Scratch& scratch, const std::string& script) {
  std::filesystem::create_directories(scratch / "bin");
  const auto file = scratch.write("bin/gnuplot", "#!/bin/sh\n" + script + "\n");
  std::filesystem::permissions(file, std::filesystem::perms::owner_all);
}

/// Runs the main job with a figure while gnuplot sleeps, sends the signal when gnuplot has begun,
/// and returns what became of the program. Where gnuplot's process is stands in ./drawing.
Ran interrupted(const Scratch& scratch, const std::string& signal) {
  fake_gnuplot(scratch, "echo $$ >drawing.new; mv drawing.new drawing; exec sleep 600");
  scratch.write("a.svg", "old");
  // A shell without job control ignores Ctrl-C in what it puts into the background.
  return shell(scratch.folder(), "export PATH=\"$PWD/bin:$PATH\"; env --default-signal " + job +
                                     "--plot a.svg --force & victim=$!; for try in $(seq 600); do "
                                     "test -e drawing && break; sleep 0.05; done; kill -" +
                                     signal + " $victim; wait $victim");
}

/// Whether a process ends; its parent may not have asked for it yet, and a busy machine may be slow
/// to end it.
bool ends(const std::string& number) {
  for (int tenths = 0; tenths < 300; ++tenths) {
    const std::string status = contents("/proc/" + number + "/stat");
    if (status.empty() || status.find(") Z ") != std::string::npos) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(100));
  }
  return false;
}

TEST(Faults, AnySignalLeavesTheOldFileAndNothingElse) {
  for (const auto& [signal, number] : std::vector<std::pair<std::string, int>>{
           {"INT", 2}, {"TERM", 15}, {"HUP", 1}, {"QUIT", 3}}) {
    SCOPED_TRACE(signal);
    const Scratch scratch;
    const Ran ran = interrupted(scratch, signal);
    EXPECT_EQ(ran.status, 128 + number) << ran.err;
    EXPECT_EQ(contents(scratch / "a.svg"), "old");
    EXPECT_THAT(left_over(scratch.folder()), IsEmpty());
    const std::string drawing = contents(scratch / "drawing");
    EXPECT_TRUE(ends(drawing.substr(0, drawing.find('\n')))) << drawing;
  }
}

TEST(Faults, ASignalThatIsIgnoredStaysSo) {
  const Scratch scratch;
  fake_gnuplot(scratch, "kill -INT $PPID; exec /usr/bin/gnuplot \"$@\"");
  const Ran ran = shell(scratch.folder(),
                        "export PATH=\"$PWD/bin:$PATH\"; trap '' INT; " + job + "--plot a.svg");
  EXPECT_EQ(ran.status, 0) << ran.err;
}

// Nothing can be done then; without a name the file goes with the process.
TEST(Faults, KilledWhileWritingLeavesTheOldFile) {
  const Scratch scratch;
  const Ran ran = interrupted(scratch, "KILL");
  EXPECT_EQ(ran.status, 128 + 9);
  EXPECT_EQ(contents(scratch / "a.svg"), "old");
  const std::string drawing = contents(scratch / "drawing");
  shell(scratch.folder(), "kill -9 " + drawing);
}

/// Signals at any moment of runs that write: 40 of each kind, from the start to the end of a run.
TEST(Faults, SignalsAtAnyMoment) {
  const std::vector<std::string> jobs{
      job + "--csv a.csv --plot a.svg --plot a.pdf --force",
      "ohmtilt acquire stimulus --seconds 1 --write a.wav --force",
      "ohmtilt survey " + word(demo("")) + " --csv a.csv --plot a.svg --force"};
  for (const auto& one : jobs) {
    const Scratch scratch;
    for (int i = 0; i < 40; ++i) {
      const Ran ran =
          shell(scratch.folder(), "timeout --preserve-status -s TERM " + std::to_string(0.004 * i) +
                                      " " + one + " >/dev/null 2>&1");
      EXPECT_TRUE(ran.status == 0 || ran.status == 128 + 15) << ran.status;
      EXPECT_THAT(left_over(scratch.folder()), IsEmpty());
      const std::string svg = contents(scratch / "a.svg");
      EXPECT_TRUE(svg.empty() || svg.find("</svg>") != std::string::npos);
    }
  }
}

TEST(Faults, AFigureThatGrowsBeyondTheLimitOfFiles) {
  for (const char* name : {"a.svg", "a.png", "a.pdf"})
    for (const char* blocks : {"8", "16", "32", "64"}) {
      const Scratch scratch;
      const Ran ran = shell(scratch.folder(),
                            std::string("ulimit -f ") + blocks + "; " + job + "--plot " + name);
      if (ran.status == 0) {  // it is small enough
        EXPECT_THAT(contents(scratch / name),
                    testing::AnyOf(HasSubstr("</svg>"), HasSubstr("IEND"), HasSubstr("%%EOF")));
        continue;
      }
      expect_not_written(ran, "ulimit -f");
      EXPECT_TRUE(std::filesystem::is_empty(scratch.folder())) << name << " " << blocks;
    }
}

TEST(Faults, GnuplotThatHangs) {
  const Scratch scratch;
  fake_gnuplot(scratch, "exec sleep 600");
  const std::string before = "export PATH=\"$PWD/bin:$PATH\" OHMTILT_GNUPLOT_SECONDS=0.5; ";
  const Ran ran = shell(scratch.folder(), before + job + "--plot a.svg");
  expect_not_written(ran, "OHMTILT_GNUPLOT_SECONDS");
  expect_answered(ran);
  const Ran version = shell(scratch.folder(), before + "ohmtilt --version");
  EXPECT_EQ(version.status, 0);
  EXPECT_THAT(version.out, HasSubstr("gnuplot-nox"));
}

TEST(Faults, NoVariableOfGnuplotsChangesAFigure) {
  const Scratch scratch;
  for (const char* ending : {".svg", ".png", ".pdf"}) {
    const std::string a = "a" + std::string(ending), b = "b" + std::string(ending);
    EXPECT_EQ(shell(scratch.folder(), job + "--plot " + a).status, 0);
    for (const char* terminal : {"qt", "x11", "wxt"}) {
      const Ran ran = shell(scratch.folder(), std::string("GNUTERM=") + terminal +
                                                  " GNUPLOT_LIB=/nowhere TZ=Asia/Kathmandu " + job +
                                                  "--force --plot " + b);
      EXPECT_EQ(ran.status, 0) << ran.err;
      EXPECT_EQ(contents(scratch / a), contents(scratch / b)) << ending;
    }
  }
}

TEST(Faults, GnuplotThatFailsInAnyWay) {
  const std::vector<std::pair<const char*, const char*>> ways{
      {"read -r line; kill -9 $$", "signal 9"},
      {"cat >/dev/null; exit 1", "status 1"},
      {"exit 0", "before the figure was complete"},
      {"cat >/dev/null; head -c 3000 /dev/urandom", "before the figure was complete"},
      {"cat >/dev/null; echo 'line 0: no such terminal' >&2; exit 2", "no such terminal"},
      {"cat >/dev/null; echo '<svg'; kill -TERM $$", "signal 15"}};
  for (const auto& [script, why] : ways) {
    SCOPED_TRACE(script);
    const Scratch scratch;
    fake_gnuplot(scratch, script);
    scratch.write("a.svg", "old");
    const Ran ran = shell(scratch.folder(), "export PATH=\"$PWD/bin:$PATH\"; " + job +
                                                "--plot a.svg --plot b.svg --csv c.csv --force");
    EXPECT_EQ(ran.status, 3);
    expect_answered(ran);
    EXPECT_THAT(ran.err, HasSubstr(why));
    EXPECT_EQ(contents(scratch / "a.svg"), "old");
    EXPECT_FALSE(std::filesystem::exists(scratch / "b.svg"));
    EXPECT_THAT(contents(scratch / "c.csv"), HasSubstr("frequency_hz"));
    EXPECT_THAT(left_over(scratch.folder()), IsEmpty());
  }
}

TEST(Faults, GnuplotThatIsMissingOrMayNotRun) {
  const Scratch scratch;
  const std::string with_path = "program=$(command -v ohmtilt); PATH=$PWD/bin; $program";
  const std::string rest = job.substr(std::string("ohmtilt").size()) + "--plot a.svg";
  const Ran missing = shell(scratch.folder(), with_path + rest);
  expect_not_written(missing, "install the package gnuplot-nox");
  expect_answered(missing);
  fake_gnuplot(scratch, "exit 0");
  std::filesystem::permissions(scratch / "bin/gnuplot", std::filesystem::perms::owner_read);
  expect_not_written(shell(scratch.folder(), with_path + rest), "gnuplot");
  EXPECT_FALSE(std::filesystem::exists(scratch / "a.svg"));
  EXPECT_EQ(shell(scratch.folder(), with_path + job.substr(7)).status, 0);  // no figure, no need
}

// ---- standard output ---------------------------------------------------------------------------

// 20000 points make more text than a pipe holds, so that the writer meets the closed end.
TEST(Faults, ABrokenPipe) {
  if (shell("/", "command -v bash").status != 0) GTEST_SKIP() << "bash is not installed";
  const Scratch scratch;
  for (const char* reader : {"head -c 0", "head -c 1", "true"}) {
    const Ran ran = shell(scratch.folder(),
                          "bash -c " + word(job + "--points 20000 --json --csv a.csv --force | " +
                                            reader + " >/dev/null; exit ${PIPESTATUS[0]}"));
    expect_not_written(ran, "standard output could not be written");
    EXPECT_THAT(contents(scratch / "a.csv"), HasSubstr("frequency_hz"));
  }
}

TEST(Faults, AFullOrClosedStandardOutput) {
  const Scratch scratch;
  for (const char* where : {">/dev/full", ">&-", "</dev/null >&- <&-"}) {
    SCOPED_TRACE(where);
    const Ran ran = shell(scratch.folder(), job + "--csv a.csv --plot a.svg --force " + where);
    expect_not_written(ran, "standard output could not be written");
    EXPECT_EQ(contents(scratch / "a.csv").rfind("frequency_hz,", 0), 0u);
    EXPECT_EQ(contents(scratch / "a.svg").rfind("<?xml", 0), 0u);
    expect_not_written(shell(scratch.folder(), std::string("ohmtilt --help ") + where),
                       "standard output could not be written");
  }
  // With nowhere to complain the status still tells.
  EXPECT_EQ(shell(scratch.folder(), job + ">&- 2>&-").status, 3);
  const Ran silent = shell(scratch.folder(), job + "--csv b.csv 2>&-");
  EXPECT_EQ(silent.status, 0);
  EXPECT_EQ(contents(scratch / "b.csv"), contents(scratch / "a.csv"));
}

// ---- many files --------------------------------------------------------------------------------

/// 10 ohm with peaks of 1 to 10 times that, the highest in the last file; every thousandth is torn.
void write_many_curves(const Scratch& scratch, int count) {
  for (int i = 1; i <= count; ++i) {
    const std::string peak = std::to_string(10 + 90.0 * i / count);
    scratch.write("n" + std::to_string(i) + ".csv",
                  "frequency_hz,magnitude_ohm,phase_deg\n20,10,0\n1000,10,0\n" +
                      (i % 1000 == 0 ? "5000,1" : "5000," + peak + ",0\n20000,10,0\n"));
  }
}

// With 24 file descriptors: none may be kept open for each file.
TEST(Faults, ASurveyOfTenThousandFiles) {
  const int count = 10000;
  const Scratch folder, scratch;
  write_many_curves(folder, count);
  const Ran ran =
      shell(scratch.folder(), "ulimit -n 24; ohmtilt survey " + word(folder.folder().string()) +
                                  " --sources 10 --csv a.csv --json");
  EXPECT_EQ(ran.status, 0) << ran.err;
  const auto json = ran.json();
  EXPECT_EQ(json["earphones"].size(), 9990u);
  EXPECT_EQ(json["unreadable"].size(), 10u);
  const auto& file = json["earphones"][json["ranking"][0].get<std::size_t>()]["file"];
  EXPECT_EQ(file, (folder / "n9999.csv").string());
  const std::string csv = contents(scratch / "a.csv");
  EXPECT_EQ(std::count(csv.begin(), csv.end(), '\n'), 1 + 9990);
  // Behind 10 instead of 0 ohm a peak of p ohm gains 20 lg(p/(p + 10)) - 20 lg(1/2) on 10 ohm.
  for (const int i : {1, 5001, 9999}) {
    const double peak = 10 + 90.0 * i / count;
    const auto found =
        std::find_if(json["earphones"].begin(), json["earphones"].end(), [&](const auto& earphone) {
          return earphone["file"] == (folder / ("n" + std::to_string(i) + ".csv")).string();
        });
    ASSERT_NE(found, json["earphones"].end());
    const auto row = static_cast<std::size_t>(found - json["earphones"].begin());
    EXPECT_NEAR(json["span_db"][row][0].get<double>(), 20 * std::log10(2 * peak / (peak + 10)),
                0.01);
  }
}

// ---- locales and names -------------------------------------------------------------------------

/// LOCPATH with de_DE in name's character set, made here; empty when that is not possible.
std::string made_locale(const Scratch& scratch, const std::string& name,
                        const std::string& characters) {
  const Ran ran = shell(scratch.folder(), "mkdir -p locales && localedef -i de_DE -f " +
                                              characters + " locales/" + name);
  if (ran.status != 0) return "";
  return "LOCPATH=\"$PWD/locales\" LC_ALL=" + name + " LANGUAGE= ";
}

TEST(Faults, ALocaleWithADecimalCommaChangesNothing) {
  const Scratch scratch;
  const std::string outputs = "--json --csv a.csv --plot a.svg --force";
  const Ran plain = shell(scratch.folder(), "LC_ALL=C " + job + outputs);
  const std::string csv = contents(scratch / "a.csv"), svg = contents(scratch / "a.svg");
  int tried = 0;
  for (const auto& [name, characters] :
       {std::pair{"de_DE.UTF-8", "UTF-8"}, std::pair{"de_DE.ISO-8859-1", "ISO-8859-1"}}) {
    const std::string locale = made_locale(scratch, name, characters);
    if (locale.empty()) continue;
    // The locale works: its comma is seen by another program.
    const Ran comma = shell(scratch.folder(), locale + "locale -k decimal_point");
    EXPECT_THAT(comma.out, HasSubstr("decimal_point=\",\""));
    const Ran ran = shell(scratch.folder(), locale + job + outputs);
    EXPECT_EQ(ran.status, 0) << ran.err;
    EXPECT_EQ(ran.out, plain.out);
    EXPECT_EQ(contents(scratch / "a.csv"), csv);
    EXPECT_EQ(contents(scratch / "a.svg"), svg);
    ++tried;
  }
  if (tried == 0) GTEST_SKIP() << "localedef cannot make de_DE here (Debian: locales)";
}

TEST(Faults, FileNamesOfEveryKind) {
  const std::vector<std::string> names{"two words.csv", "line\nend.csv", "-dash.csv",
                                       "caf\xe9.csv",   "quote'\".csv",  "$(touch x).csv",
                                       "#%1.csv",       "\xc3\xa9.csv"};
  for (const auto& name : names) {
    SCOPED_TRACE(valid_utf8(name));
    const Scratch scratch;
    scratch.write(name, "10,16\n1000,20\n30000,32\n");
    const std::string given = word("./" + name);
    for (const char* locale : {"LC_ALL=C", "LC_ALL=C.UTF-8"}) {
      const Ran ran =
          shell(scratch.folder(), std::string(locale) + " ohmtilt deviation " + given +
                                      " --to 6 --json --force --csv " + word("./out " + name) +
                                      " --plot " + word("./" + name + ".svg"));
      EXPECT_EQ(ran.status, 0) << ran.err;
      EXPECT_EQ(ran.json()["command"], "deviation");  // throws unless it is valid UTF-8
      EXPECT_THAT(contents(scratch / ("out " + name)), HasSubstr("frequency_hz"));
      EXPECT_THAT(contents(scratch / (name + ".svg")), HasSubstr("</svg>"));
      EXPECT_FALSE(std::filesystem::exists(scratch / "x"));
    }
  }
}

TEST(Faults, ANameWithADashNeedsNoFolderBehindAnEqualsSignOrTwoDashes) {
  const Scratch scratch;
  scratch.write("-dash.csv", "10,16\n1000,20\n30000,32\n");
  const Ran ran =
      shell(scratch.folder(), "ohmtilt deviation --to 6 --csv=-out.csv --json -- -dash.csv");
  EXPECT_EQ(ran.status, 0) << ran.err;
  EXPECT_THAT(contents(scratch / "-out.csv"), HasSubstr("frequency_hz"));
}

TEST(Faults, AMessageNamesAFileOnOneLine) {
  const Scratch scratch;
  const Ran ran = shell(scratch.folder(), "ohmtilt inspect 'no\nsuch\033[31m.csv'");
  EXPECT_EQ(ran.status, 2);
  EXPECT_EQ(std::count(ran.err.begin(), ran.err.end(), '\n'), 1) << ran.err;
  EXPECT_EQ(ran.err.find('\033'), std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
