// What can go wrong with the drawing program, each with its message.
#include <ohmtilt/text/error.h>
#include <plots/gnuplot_version.h>
#include <plots/session.h>

#include <csignal>
#include <optional>

#include "tests/plots/figure_support.h"

namespace ohmtilt::plots {
namespace {

using test::message_of;
using test::OnlyPath;
using test::Scratch;

std::string draw_with(const std::string& gnuplot) {
  const Scratch programs, folder;
  test::write_gnuplot(programs, gnuplot);
  const OnlyPath path(programs.folder());
  const auto figure = test::invented_figure(8);
  const std::string message =
      message_of<OutputError>([&] { draw(figure, test::to_file(folder / "a.svg")); });
  EXPECT_TRUE(std::filesystem::is_empty(folder.folder())) << message;
  return message;
}

/// What follows when it failed.
const std::string remedy =
    "; draw again, and if it stays so, draw nothing: the numbers need no gnuplot";

TEST(Session, ReturnsWhatGnuplotDraws) {
  Session session("set terminal dumb 40,10\nplot x\n");
  EXPECT_NE(session.finish().find('*'), std::string::npos);
}

TEST(Session, SaysThatGnuplotIsMissing) {
  const Scratch empty, folder;
  const OnlyPath path(empty.folder());
  const auto act = [&] { draw(test::invented_figure(), test::to_file(folder / "a.svg")); };
  EXPECT_EQ(message_of<OutputError>(act),
            "gnuplot is not installed; install the package gnuplot-nox, or draw nothing");
  EXPECT_TRUE(std::filesystem::is_empty(folder.folder()));
}

TEST(Session, SaysNothingBeforeItIsAsked) {
  const Scratch empty;
  const OnlyPath path(empty.folder());
  EXPECT_NO_THROW(Session("plot x\n"));
}

TEST(Session, TellsGnuplotsOwnError) {
  Session session("set terminal svg\nset nonsense\nplot x\n");
  const std::string message = message_of<OutputError>([&] { session.finish(); });
  EXPECT_NE(message.find("gnuplot failed: "), std::string::npos) << message;
  EXPECT_NE(message.find("unrecognized option"), std::string::npos) << message;
  EXPECT_EQ(message.find('\n'), std::string::npos);
}

TEST(Session, TellsAStatusAndAFirstWord) {
  EXPECT_EQ(draw_with("exit 1\n"), "gnuplot failed: it ended with status 1" + remedy);
  EXPECT_EQ(draw_with("echo 'no font at all' >&2\nexit 3\n"),
            "gnuplot failed: no font at all" + remedy);
}

TEST(Session, NoticesAKilledGnuplot) {
  EXPECT_EQ(draw_with("kill -9 $$\n"), "gnuplot failed: it was stopped by signal 9" + remedy);
  EXPECT_EQ(draw_with("head -c 100 >/dev/null; echo '<svg/>'; kill -15 $$\n").substr(0, 16),
            "gnuplot failed: ");
}

TEST(Session, NoticesAGnuplotThatStopsReading) {
  EXPECT_EQ(draw_with("echo '<svg/>'\nexit 0\n"),
            "gnuplot failed: it ended before the figure was complete" + remedy);
}

TEST(Session, NoticesAnEmptyFigure) {
  EXPECT_EQ(
      draw_with("while read -r line; do case $line in print*) echo \"$line\" >&2;; esac; done\n"),
      "gnuplot failed: it ended before the figure was complete" + remedy);
}

TEST(Session, LeavesTheHandlingOfBrokenPipesAsItWas) {
  draw_with("exit 0\n");
  struct sigaction action;
  ::sigaction(SIGPIPE, nullptr, &action);
  EXPECT_EQ(action.sa_handler, SIG_DFL);
  sigset_t blocked, pending;
  ::pthread_sigmask(SIG_SETMASK, nullptr, &blocked);
  ::sigpending(&pending);
  EXPECT_EQ(::sigismember(&blocked, SIGPIPE), 0);
  EXPECT_EQ(::sigismember(&pending, SIGPIPE), 0);
}

TEST(Session, CanBeDroppedUnfinished) { Session("set terminal svg\npause 60\n"); }

/// A variable of the environment while it lives.
class Variable {
 public:
  Variable(const char* name, const char* value) : name_(name) {
    if (const char* before = std::getenv(name)) before_ = before;
    ::setenv(name, value, 1);
  }
  ~Variable() { before_ ? ::setenv(name_, before_->c_str(), 1) : ::unsetenv(name_); }
  Variable(const Variable&) = delete;
  Variable& operator=(const Variable&) = delete;

 private:
  const char* name_;
  std::optional<std::string> before_;
};

TEST(Session, EndsAGnuplotThatHangs) {
  const Variable time("OHMTILT_GNUPLOT_SECONDS", "0.3");
  for (const char* way : {"exec /bin/sleep 600", "/bin/sleep 600", "/bin/sleep 600 & wait",
                          "trap '' TERM; while :; do /bin/sleep 600; done", "kill -STOP $$"}) {
    const std::string message = draw_with(std::string(way) + "\n");
    EXPECT_EQ(message.rfind("gnuplot failed: it did not end within 0.3 s; ", 0), 0u) << message;
    EXPECT_NE(message.find("OHMTILT_GNUPLOT_SECONDS"), std::string::npos) << message;
  }
}

TEST(Session, RefusesATimeThatIsNone) {
  for (const char* wrong : {"", "soon", "-1", "0", "1e9", "nan", "5 s"}) {
    const Variable time("OHMTILT_GNUPLOT_SECONDS", wrong);
    const std::string message = message_of<InputError>([] { check(test::to_file("a.svg")); });
    EXPECT_NE(message.find("from 0.1 to 86400"), std::string::npos) << message;
  }
}

TEST(Session, DoesNotAskAGnuplotThatHangsForItsVersion) {
  const Variable time("OHMTILT_GNUPLOT_SECONDS", "0.3");
  const Scratch programs;
  test::write_gnuplot(programs, "exec /bin/sleep 600\n");
  const OnlyPath path(programs.folder());
  EXPECT_EQ(gnuplot_version(), std::nullopt);
}

/// What the user's own gnuplot is told by its environment (gnuplot 5.4, `help environment`), other
/// languages and time zones: none of it changes a figure by a byte.
TEST(Session, GivesGnuplotAnEnvironmentOfItsOwn) {
  const Scratch folder;
  const auto figure = test::invented_figure();
  for (const char* name : {"a.svg", "a.png", "a.pdf"}) draw(figure, test::to_file(folder / name));
  const Variable terminal("GNUTERM", "qt"), library("GNUPLOT_LIB", "/nowhere"),
      font("GNUPLOT_DEFAULT_GDFONT", "nothing"), encoding("GNUPLOT_PS_DIR", "/nowhere"),
      fonts("GDFONTPATH", "/nowhere"), zone("TZ", "Asia/Kathmandu"), language("LC_ALL", "de_DE"),
      options("FIT_SCRIPT", "x"), resources("XAPPLRESDIR", "/nowhere");
  for (const char* ending : {".svg", ".png", ".pdf"}) {
    draw(figure, test::to_file(folder / ("b" + std::string(ending))));
    EXPECT_EQ(test::contents(folder / ("b" + std::string(ending))),
              test::contents(folder / ("a" + std::string(ending))))
        << ending;
  }
  EXPECT_TRUE(gnuplot_version().has_value());
}

/// A gnuplot that draws no more than so many bytes and reports success.
std::string cutting_gnuplot(int bytes) {
  return "/usr/bin/gnuplot \"$@\" 2>\"$0.errors\" | head -c " + std::to_string(bytes) +
         "\ncat \"$0.errors\" >&2\n";
}

TEST(Session, NoticesAFigureThatWasCut) {
  if (!std::filesystem::exists("/usr/bin/gnuplot")) GTEST_SKIP() << "gnuplot is elsewhere";
  const Scratch programs, folder;
  const Variable path("PATH", (programs.folder().string() + ":/usr/bin:/bin").c_str());
  for (const char* name : {"a.svg", "a.png", "a.pdf"}) {
    const auto file = folder / name;
    test::write_gnuplot(programs, cutting_gnuplot(100000000));
    draw(test::invented_figure(), test::to_file(file));
    const auto size = static_cast<int>(std::filesystem::file_size(file));
    std::filesystem::remove(file);
    for (const int bytes : {1, size / 2, size - 8}) {
      test::write_gnuplot(programs, cutting_gnuplot(bytes));
      const std::string message =
          message_of<OutputError>([&] { draw(test::invented_figure(), test::to_file(file)); });
      EXPECT_NE(message.find("the end of the figure is missing"), std::string::npos) << message;
      EXPECT_TRUE(std::filesystem::is_empty(folder.folder()));
    }
  }
}

}  // namespace
}  // namespace ohmtilt::plots
