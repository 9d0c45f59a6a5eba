#pragma once
// What a live page is filled with, as its script takes it (tools/live/page/source/given.ts).
#include <string>
#include <vector>

#include <tools/ohmtilt/live/given_files.h>

namespace ohmtilt::cli {

struct LiveGiven {
  std::string title;
  std::vector<std::string> earphones;  ///< files
  std::vector<std::string> titles;     ///< one an earphone
  std::vector<std::string> sources;    ///< files of chains and of output impedances
  std::string from, to;                ///< to start with, as tools/live/source_spec.h writes them
  std::vector<std::string> kept;       ///< resistances to compare with
  double limit_db = 1;
};

/// The first earphone is the one that the page starts with.
std::string given_json(const LiveGiven& given, const GivenFiles& files);

}  // namespace ohmtilt::cli
