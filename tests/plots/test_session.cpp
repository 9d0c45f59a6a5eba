// What can go wrong with the drawing program, each with its message.
#include <ohmtilt/text/error.h>
#include <plots/session.h>

#include <csignal>

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
  Session session;
  session.send("set terminal dumb 40,10\nplot x\n");
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
  Output output;
  EXPECT_NO_THROW(start_ahead(output));
}

TEST(Session, TellsGnuplotsOwnError) {
  Session session;
  session.send("set terminal svg\nset nonsense\nplot x\n");
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
      "gnuplot failed: it drew nothing; another ending (.svg, .png, .pdf) may work");
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

TEST(Session, CanBeDroppedUnfinished) {
  Session session;
  session.send("set terminal svg\n");
}

}  // namespace
}  // namespace ohmtilt::plots
