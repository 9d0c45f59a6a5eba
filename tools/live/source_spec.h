#pragma once
// A source as the page writes it, in one line:
//   6                            what `--from` and `--to` take: ohms, a code, a file that was given
//   file NAME                    a chain or a curve of an output impedance
//   file NAME | 1 off            ... without its first stage
//   file NAME | 1.series_ohm 10  ... with another resistance in its first stage, a pad
//   pad DB OHM                   an L pad behind the other source, of that attenuation, which loads
//                                the amplifier with that many ohms
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt::live {

/// behind: the source that an L pad stands behind. Throws InputError.
TheveninSource source_of(const std::string& spec, const std::string& behind);

/// The same with its amplifier: what the analyses of level ask for. A curve or a number is a chain
/// without stages.
Chain chain_of(const std::string& spec, const std::string& behind);

/// A value of a stage that the page can change.
struct StageValue {
  std::size_t stage = 0;  ///< counting from 1
  std::string key;        ///< empty: the stage can be taken out, and has no value
  double ohm = 0;
  std::string label;  ///< "stage 1: pad"
};
std::vector<StageValue> stage_values(const Chain& chain);

}  // namespace ohmtilt::live
