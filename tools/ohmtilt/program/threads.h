#pragma once
#include <cstddef>
#include <memory>

namespace ohmtilt::cli {

/// While it lives, work is spread over no more threads than the system grants: where it refuses
/// some (ulimit -u, a container's limit), over those that there are, and over this one alone where
/// there is no other. oneTBB ends a program that it cannot have all its threads for.
class GrantedThreads {
 public:
  GrantedThreads();
  ~GrantedThreads();
  GrantedThreads(const GrantedThreads&) = delete;
  GrantedThreads& operator=(const GrantedThreads&) = delete;

 private:
  struct Limit;
  std::unique_ptr<Limit> limit_;  ///< none while all were granted
};

}  // namespace ohmtilt::cli
