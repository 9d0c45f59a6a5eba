#include <plots/child_process.h>

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <ctime>
#include <string_view>
#include <utility>

namespace ohmtilt::plots {

Descriptor::Descriptor(int opened) {
  number_ = opened < 0 || opened > 2 ? opened : ::fcntl(opened, F_DUPFD_CLOEXEC, 3);
  if (opened >= 0 && opened <= 2) ::close(opened);
}

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
  close();
  number_ = other.release();
  return *this;
}

int Descriptor::release() { return std::exchange(number_, -1); }

void Descriptor::close() {
  if (number_ >= 0) ::close(release());
}

Descriptor memory_file(const char* name) { return Descriptor(::memfd_create(name, MFD_CLOEXEC)); }

std::FILE* stream_to(const Descriptor& file) {
  return ::fdopen(::fcntl(file.number(), F_DUPFD_CLOEXEC, 3), "w");
}

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

namespace {

/// The process groups that run: a signal handler can read them.
std::array<std::atomic<pid_t>, 16> running{};

void exchange_running(pid_t from, pid_t to) {
  for (auto& group : running) {
    pid_t expected = from;
    if (group.compare_exchange_strong(expected, to)) return;
  }
}

/// Where fonts, displays, libraries and temporary files are: nothing that changes what is drawn.
bool is_handed_on(std::string_view variable) {
  const std::string_view name = variable.substr(0, variable.find('='));
  constexpr std::array<std::string_view, 9> names = {
      "PATH",       "HOME",           "USER", "LOGNAME", "TMPDIR", "DISPLAY", "WAYLAND_DISPLAY",
      "XAUTHORITY", "LD_LIBRARY_PATH"};
  return std::find(names.begin(), names.end(), name) != names.end() || name.starts_with("XDG_") ||
         name.starts_with("FONTCONFIG_");
}

std::vector<std::string> environment() {
  std::vector<std::string> variables;
  for (char** variable = environ; *variable != nullptr; ++variable)
    if (is_handed_on(*variable)) variables.emplace_back(*variable);
  variables.emplace_back("LC_ALL=C.UTF-8");
  variables.emplace_back("TZ=UTC");
  return variables;
}

std::vector<char*> pointers(std::vector<std::string>& texts) {
  std::vector<char*> result;
  result.reserve(texts.size() + 1);
  for (std::string& text : texts) result.push_back(text.data());
  result.push_back(nullptr);
  return result;
}

/// The three standard descriptors of a program.
class SpawnFiles {
 public:
  SpawnFiles(int input, int output, int errors) {
    ::posix_spawn_file_actions_init(&files_);
    ::posix_spawn_file_actions_adddup2(&files_, input, STDIN_FILENO);
    ::posix_spawn_file_actions_adddup2(&files_, output, STDOUT_FILENO);
    ::posix_spawn_file_actions_adddup2(&files_, errors, STDERR_FILENO);
  }
  ~SpawnFiles() { ::posix_spawn_file_actions_destroy(&files_); }
  SpawnFiles(const SpawnFiles&) = delete;
  SpawnFiles& operator=(const SpawnFiles&) = delete;
  const posix_spawn_file_actions_t* get() const { return &files_; }

 private:
  posix_spawn_file_actions_t files_;
};

/// No signal blocked, none ignored that this program ignores, a process group of its own.
class SpawnAttributes {
 public:
  SpawnAttributes() {
    sigset_t none, usual;
    ::sigemptyset(&none);
    ::sigemptyset(&usual);
    for (const int signal : {SIGPIPE, SIGXFSZ, SIGINT, SIGTERM, SIGHUP})
      ::sigaddset(&usual, signal);
    ::posix_spawnattr_init(&attributes_);
    ::posix_spawnattr_setsigmask(&attributes_, &none);
    ::posix_spawnattr_setsigdefault(&attributes_, &usual);
    ::posix_spawnattr_setpgroup(&attributes_, 0);
    ::posix_spawnattr_setflags(
        &attributes_, POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF | POSIX_SPAWN_SETPGROUP);
  }
  ~SpawnAttributes() { ::posix_spawnattr_destroy(&attributes_); }
  SpawnAttributes(const SpawnAttributes&) = delete;
  SpawnAttributes& operator=(const SpawnAttributes&) = delete;
  const posix_spawnattr_t* get() const { return &attributes_; }

 private:
  posix_spawnattr_t attributes_;
};

int milliseconds_to(std::chrono::steady_clock::time_point deadline) {
  const auto left =
      std::chrono::ceil<std::chrono::milliseconds>(deadline - std::chrono::steady_clock::now());
  return static_cast<int>(std::clamp<long long>(left.count(), 0, 1000000));
}

/// Waits until the process ends or the time has come.
void watch(pid_t number, std::chrono::steady_clock::time_point deadline) {
  const Descriptor process(static_cast<int>(::syscall(SYS_pidfd_open, number, 0)));
  if (process.number() < 0) {  // a kernel before 5.3: look again soon
    const timespec a_moment = {0, 2000000};
    ::nanosleep(&a_moment, nullptr);
    return;
  }
  pollfd end = {process.number(), POLLIN, 0};
  ::poll(&end, 1, milliseconds_to(deadline));
}

}  // namespace

void kill_child_processes() noexcept {
  for (const auto& group : running)
    if (const pid_t number = group.load(); number > 0) ::kill(-number, SIGKILL);
}

ChildProcess::ChildProcess(std::vector<std::string> words, const Descriptor& input) {
  start(std::move(words), input.number());
}

ChildProcess::ChildProcess(std::vector<std::string> words) {
  const Descriptor nothing(::open("/dev/null", O_RDONLY | O_CLOEXEC));
  start(std::move(words), nothing.number());
}

void ChildProcess::start(std::vector<std::string> words, int input) {
  said_ = memory_file("said");
  errors_ = memory_file("errors");
  if (input < 0 || said_.number() < 0 || errors_.number() < 0) {
    why_not_started_ = errno;
    return;
  }
  const SpawnFiles files(input, said_.number(), errors_.number());
  const SpawnAttributes attributes;
  std::vector<std::string> variables = environment();
  why_not_started_ = ::posix_spawnp(&number_, words[0].c_str(), files.get(), attributes.get(),
                                    pointers(words).data(), pointers(variables).data());
  if (why_not_started_ != 0) number_ = 0;
  if (number_ > 0) exchange_running(0, number_);
}

ChildProcess::~ChildProcess() { kill(); }

/// Kills it with all that it started, and waits for that.
void ChildProcess::kill() {
  if (number_ <= 0) return;
  ::kill(-number_, SIGKILL);
  while (::waitpid(number_, nullptr, 0) < 0 && errno == EINTR) continue;
  exchange_running(number_, 0);
  number_ = 0;
}

bool ChildProcess::ends_by(std::chrono::steady_clock::time_point deadline, int& status) {
  while (true) {
    const pid_t ended = ::waitpid(number_, &status, WNOHANG);
    if (ended == number_ || (ended < 0 && errno != EINTR)) break;
    if (std::chrono::steady_clock::now() >= deadline) return false;
    watch(number_, deadline);
  }
  exchange_running(number_, 0);
  number_ = 0;
  return true;
}

Ended ChildProcess::wait(std::chrono::duration<double> at_most) {
  Ended ended;
  ended.why_not_started = why_not_started_;
  if (why_not_started_ != 0) return ended;
  using Clock = std::chrono::steady_clock;
  int status = 0;
  ended.late = !ends_by(started_ + std::chrono::duration_cast<Clock::duration>(at_most), status);
  kill();
  if (WIFSIGNALED(status))
    ended.signal = WTERMSIG(status);
  else
    ended.status = WEXITSTATUS(status);
  ended.over_file_size = ended.signal == SIGXFSZ;
  ended.said = contents(said_);
  ended.errors = contents(errors_);
  return ended;
}

}  // namespace ohmtilt::plots
