// How often `acquire` names the fault of a synthetic recording, and how often it alarms falsely:
//   bench_recordings [RECORDINGS [WORD OF A FAULT'S NAME [sweep|multitone|noise|average [FIRST
//   SEED]]]]
#include <cstdio>
#include <cstdlib>
#include <map>

#include "tests/measure/synthetic_recording.h"

namespace {

using namespace ohmtilt;
using namespace ohmtilt::test;

const std::vector<std::pair<std::string, Measuring>>& ways() {
  static const std::vector<std::pair<std::string, Measuring>> all{
      {"sweep", {StimulusKind::sweep, 3}},
      {"multitone", {StimulusKind::multitone, 9}},
      {"noise", {StimulusKind::noise, 9}},
      {"average", {StimulusKind::noise, 9, false}}};
  return all;
}

/// One row of the table: of the recordings with this fault, how many are named, refused, covered,
/// or either named or covered.
struct Row {
  int named = 0, refused = 0, covered = 0, honest = 0;
  std::map<std::string, int> kinds;
};

Row row_of(const Fault& fault, const Measuring& how, unsigned first, unsigned recordings) {
  Row row;
  for (unsigned seed = first; seed < first + recordings; ++seed) {
    SyntheticBench bench(seed, how);
    const auto outcome = bench.acquired(fault);
    const bool named = names(outcome, fault);
    const bool covered = outcome.refusal.empty() && outcome.inside >= 0.93;
    row.named += named;
    row.refused += !outcome.refusal.empty();
    row.covered += covered;
    row.honest += named || covered;
    for (const std::string& kind : outcome.kinds) ++row.kinds[kind];
    if (!outcome.refusal.empty() && !named) {
      const auto words = outcome.refusal.find(": ");
      ++row.kinds["\"" + outcome.refusal.substr(words + 2, 40) + "\""];
    }
  }
  return row;
}

void print(const Fault& fault, const Row& row) {
  std::printf("%-32s %6d %8d %8d %7d  ", fault.name.c_str(), row.named, row.refused, row.covered,
              row.honest);
  for (const auto& [kind, count] : row.kinds) std::printf(" %s %d", kind.c_str(), count);
  std::printf("\n");
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  const unsigned recordings = argc > 1 ? static_cast<unsigned>(std::atoi(argv[1])) : 100;
  const std::string word = argc > 2 ? argv[2] : "", only = argc > 3 ? argv[3] : "";
  const unsigned first = argc > 4 ? static_cast<unsigned>(std::atoi(argv[4])) : 0;
  std::vector<Fault> faults = clean_recordings();
  for (const Fault& fault : recording_faults()) faults.push_back(fault);
  for (const auto& [name, how] : ways()) {
    if (!only.empty() && only != name) continue;
    std::printf("%-9s, of %4u each             named  refused  covered  either   findings\n",
                name.c_str(), recordings);
    for (const Fault& fault : faults)
      if (fault.name.find(word) != std::string::npos)
        print(fault, row_of(fault, how, first, recordings));
  }
}
