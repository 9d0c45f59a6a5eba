#include <plots/session.h>

#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <ctime>
#include <sstream>
#include <vector>

#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wall"
#pragma GCC diagnostic ignored "-Wextra"
#pragma GCC diagnostic ignored "-Wshadow"
#pragma GCC diagnostic ignored "-Wconversion"
#include <gnuplot-iostream.h>
#pragma GCC diagnostic pop

namespace ohmtilt::plots {
namespace {

/// Printed by gnuplot on its standard error as the script's last act.
constexpr std::string_view last_words = "ohmtilt: the figure is complete";

OutputError cannot_start(int why_not) {
  return OutputError(std::string("gnuplot cannot be started: ") + std::strerror(why_not) +
                     "; see whether `gnuplot --version` answers, or draw nothing");
}

OutputError failed(const std::string& how) {
  return OutputError("gnuplot failed: " + how +
                     "; draw again, and if it stays so, draw nothing: the numbers need no gnuplot");
}

/// An open descriptor above the three standard ones, closed with the object and never inherited.
class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int opened) {
    if (opened < 0) throw cannot_start(errno);
    number_ = opened > 2 ? opened : ::fcntl(opened, F_DUPFD_CLOEXEC, 3);
    if (opened <= 2) ::close(opened);
  }
  Descriptor(Descriptor&& other) noexcept : number_(other.release()) {}
  Descriptor& operator=(Descriptor&& other) noexcept {
    close();
    number_ = other.release();
    return *this;
  }
  ~Descriptor() { close(); }
  int number() const { return number_; }
  int release() { return std::exchange(number_, -1); }
  void close() {
    if (number_ >= 0) ::close(release());
  }

 private:
  int number_ = -1;
};

Descriptor memory_file(const char* name) { return Descriptor(::memfd_create(name, MFD_CLOEXEC)); }

std::string contents(const Descriptor& file) {
  std::string bytes;
  std::array<char, 65536> part;
  while (true) {
    const ssize_t count =
        ::pread(file.number(), part.data(), part.size(), static_cast<off_t>(bytes.size()));
    if (count < 0 && errno == EINTR) continue;
    if (count <= 0) return bytes;
    bytes.append(part.data(), static_cast<std::size_t>(count));
  }
}

/// While it lives, writing to a process that has gone is an error and not a signal to this thread.
class NoBrokenPipeSignal {
 public:
  NoBrokenPipeSignal() {
    ::sigemptyset(&pipe_signal_);
    ::sigaddset(&pipe_signal_, SIGPIPE);
    sigset_t pending;
    ::sigpending(&pending);
    was_pending_ = ::sigismember(&pending, SIGPIPE) == 1;
    ::pthread_sigmask(SIG_BLOCK, &pipe_signal_, &before_);
  }
  ~NoBrokenPipeSignal() {
    const timespec at_once = {};
    if (!was_pending_)
      while (::sigtimedwait(&pipe_signal_, nullptr, &at_once) < 0 && errno == EINTR) continue;
    ::pthread_sigmask(SIG_SETMASK, &before_, nullptr);
  }
  NoBrokenPipeSignal(const NoBrokenPipeSignal&) = delete;
  NoBrokenPipeSignal& operator=(const NoBrokenPipeSignal&) = delete;

 private:
  sigset_t pipe_signal_, before_;
  bool was_pending_;
};

/// This process's environment with a locale that changes nothing in the figure.
std::vector<std::string> environment() {
  std::vector<std::string> variables;
  for (char** variable = environ; *variable != nullptr; ++variable) {
    const std::string_view text = *variable;
    if (!text.starts_with("LC_") && !text.starts_with("LANG")) variables.emplace_back(text);
  }
  variables.emplace_back("LC_ALL=C.UTF-8");
  return variables;
}

std::vector<char*> pointers(std::vector<std::string>& texts) {
  std::vector<char*> result;
  result.reserve(texts.size() + 1);
  for (std::string& text : texts) result.push_back(text.data());
  result.push_back(nullptr);
  return result;
}

/// Starts gnuplot on three descriptors; returns its process number, or throws.
pid_t start(int input, int output, int errors) {
  posix_spawn_file_actions_t files;
  ::posix_spawn_file_actions_init(&files);
  ::posix_spawn_file_actions_adddup2(&files, input, STDIN_FILENO);
  ::posix_spawn_file_actions_adddup2(&files, output, STDOUT_FILENO);
  ::posix_spawn_file_actions_adddup2(&files, errors, STDERR_FILENO);
  posix_spawnattr_t attributes;
  ::posix_spawnattr_init(&attributes);
  sigset_t none, pipe_signal;
  ::sigemptyset(&none);
  ::sigemptyset(&pipe_signal);
  ::sigaddset(&pipe_signal, SIGPIPE);
  ::posix_spawnattr_setsigmask(&attributes, &none);
  ::posix_spawnattr_setsigdefault(&attributes, &pipe_signal);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
  std::vector<std::string> words = {"gnuplot", "--default-settings", "/dev/stdin"},
                           variables = environment();
  pid_t number = 0;
  const int why_not = ::posix_spawnp(&number, "gnuplot", &files, &attributes,
                                     pointers(words).data(), pointers(variables).data());
  ::posix_spawnattr_destroy(&attributes);
  ::posix_spawn_file_actions_destroy(&files);
  if (why_not == ENOENT)
    throw OutputError("gnuplot is not installed; install the package gnuplot-nox, or draw nothing");
  if (why_not != 0) throw cannot_start(why_not);
  return number;
}

/// What gnuplot says of an error stands in the last line it wrote.
std::string last_line(const std::string& text) {
  std::istringstream lines(text);
  std::string last;
  for (std::string line; std::getline(lines, line);)
    if (!trimmed(line).empty() && line.find(last_words) == std::string::npos) last = trimmed(line);
  return printable(last);
}

/// Throws what went wrong, if anything did.
void check(int status, const std::string& errors) {
  if (WIFSIGNALED(status))
    throw failed("it was stopped by signal " + std::to_string(WTERMSIG(status)));
  const bool complete = errors.find(last_words) != std::string::npos;
  if (status == 0 && complete) return;
  const std::string said = last_line(errors);
  if (!said.empty()) throw failed(said);
  if (status != 0) throw failed("it ended with status " + std::to_string(WEXITSTATUS(status)));
  throw failed("it ended before the figure was complete");
}

}  // namespace

struct Session::Process {
  std::string failure;  ///< why it could not be started
  pid_t number = 0;     ///< 0 once it has been waited for
  Descriptor drawn, errors;
  std::unique_ptr<gnuplotio::Gnuplot> stream;

  void begin() {
    std::array<int, 2> ends;
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) ends = {-1, -1};
    Descriptor reading(ends[0]), writing(ends[1]);
    drawn = memory_file("figure");
    errors = memory_file("errors");
    number = start(reading.number(), drawn.number(), errors.number());
    // The handle is closed by the stream.
    stream = std::make_unique<gnuplotio::Gnuplot>(::fdopen(writing.release(), "w"));
  }
  int wait() {
    int status = 0;
    while (::waitpid(number, &status, 0) < 0 && errno == EINTR) continue;
    number = 0;
    return status;
  }
};

Session::Session() : process_(std::make_unique<Process>()) {
  try {
    process_->begin();
  } catch (const OutputError& error) {
    process_->failure = error.what();
  }
}

Session::~Session() {
  const NoBrokenPipeSignal guard;
  if (process_->number > 0)
    ::kill(process_->number, SIGKILL);  // an unfinished figure is not wanted
  process_->stream.reset();
  if (process_->number > 0) process_->wait();
}

void Session::send(std::string_view commands) {
  if (!process_->stream) return;
  const NoBrokenPipeSignal guard;
  *process_->stream << commands << std::flush;
}

std::string Session::finish() {
  if (!process_->failure.empty()) throw OutputError(process_->failure);
  send("\nset output\nprint '" + std::string(last_words) + "'\n");
  {
    const NoBrokenPipeSignal guard;
    process_->stream.reset();
  }
  const int status = process_->wait();
  check(status, contents(process_->errors));
  return contents(process_->drawn);
}

}  // namespace ohmtilt::plots
