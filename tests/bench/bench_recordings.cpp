// How often `acquire` names the fault of a synthetic recording, and how often it alarms falsely:
//   bench_recordings [RECORDINGS [WORD OF A FAULT'S NAME]]
#include <cstdio>
#include <cstdlib>
#include <map>

#include "tests/measure/synthetic_recording.h"

namespace {

using namespace ohmtilt;
using namespace ohmtilt::test;

/// One row of the table: of the recordings with this fault, how many are named, refused or covered.
struct Row {
  int named = 0, refused = 0, covered = 0;
  std::map<std::string, int> kinds;
};

Row row_of(const Fault& fault, unsigned recordings) {
  Row row;
  for (unsigned seed = 0; seed < recordings; ++seed) {
    SyntheticBench bench(seed, StimulusKind::sweep, 5);
    const auto outcome = bench.acquired(fault);
    row.named += names(outcome, fault);
    row.refused += !outcome.refusal.empty();
    row.covered += outcome.refusal.empty() && outcome.inside >= 0.95;
    for (const std::string& kind : outcome.kinds) ++row.kinds[kind];
  }
  return row;
}

void print(const Fault& fault, const Row& row) {
  std::printf("%-32s %6d %8d %8d  ", fault.name.c_str(), row.named, row.refused, row.covered);
  for (const auto& [kind, count] : row.kinds) std::printf(" %s %d", kind.c_str(), count);
  std::printf("\n");
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  const unsigned recordings = argc > 1 ? static_cast<unsigned>(std::atoi(argv[1])) : 100;
  const std::string word = argc > 2 ? argv[2] : "";
  std::vector<Fault> faults{{"none", {}}, {"none, three terms", {}}};
  faults[1].three_terms = true;
  for (const Fault& fault : recording_faults()) faults.push_back(fault);
  std::printf("of %u recordings each            named  refused  covered   findings\n", recordings);
  for (const Fault& fault : faults)
    if (fault.name.find(word) != std::string::npos) print(fault, row_of(fault, recordings));
}
