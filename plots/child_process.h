#pragma once
#include <sys/types.h>

#include <chrono>
#include <cstdio>
#include <memory>
#include <string>
#include <vector>

namespace ohmtilt::plots {

/// An open descriptor above the three standard ones, closed with the object and not inherited.
class Descriptor {
 public:
  Descriptor() = default;
  explicit Descriptor(int opened);
  Descriptor(Descriptor&& other) noexcept : number_(other.release()) {}
  Descriptor& operator=(Descriptor&& other) noexcept;
  ~Descriptor() { close(); }
  int number() const { return number_; }  ///< negative when nothing is open
  int release();
  void close();

 private:
  int number_ = -1;
};

/// A file without a name, in memory. Nothing is open in it when there is no memory for one.
Descriptor memory_file(const char* name);
/// A stream onto it, which closes a descriptor of its own; null where none is to be had.
std::FILE* stream_to(const Descriptor& file);
/// All of it.
std::string contents(const Descriptor& file);

/// What became of a program.
struct Ended {
  int why_not_started = 0;      ///< errno; 0 when it was started
  bool late = false;            ///< it ran longer than allowed and was stopped
  int status = 0;               ///< its exit status
  int signal = 0;               ///< the signal that ended it; 0 when none did
  bool over_file_size = false;  ///< that was for a file larger than is allowed (ulimit -f)
  std::string said;             ///< on its standard output
  std::string errors;           ///< on its standard error
  /// It was started, ended in time by itself, and with status 0.
  bool well() const { return why_not_started == 0 && !late && status == 0 && signal == 0; }
};

/// Another program, found along PATH, run without a shell: its standard input is a file, both its
/// outputs are kept in memory. Of this process's environment it gets only what tells where fonts,
/// displays and libraries are; its language is C.UTF-8 and its time zone UTC, so that it draws the
/// same everywhere. It leads a process group of its own, which is killed with the object.
class ChildProcess {
 public:
  /// Starts it; input is not needed any more afterwards. Never throws for want of the program.
  ChildProcess(std::vector<std::string> words, const Descriptor& input);
  explicit ChildProcess(std::vector<std::string> words);  ///< nothing to read
  ~ChildProcess();
  ChildProcess(const ChildProcess&) = delete;
  ChildProcess& operator=(const ChildProcess&) = delete;

  /// Waits for its end, until so long after its start.
  Ended wait(std::chrono::duration<double> at_most);

 private:
  void start(std::vector<std::string> words, int input);
  bool ends_by(std::chrono::steady_clock::time_point deadline, int& status);
  void kill();

  std::chrono::steady_clock::time_point started_ = std::chrono::steady_clock::now();
  int why_not_started_ = 0;
  pid_t number_ = 0;  ///< 0 once it has been waited for
  Descriptor said_, errors_;
};

/// Kills every child process that runs. May be called in a signal handler.
void kill_child_processes() noexcept;

}  // namespace ohmtilt::plots
