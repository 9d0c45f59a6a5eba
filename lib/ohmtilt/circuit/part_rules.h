#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/circuit/part.h>

namespace ohmtilt {

/// What a value may be. Every non-zero value also lies within 1e-24 to 1e15 in magnitude.
enum class ValueRange { any, not_zero, not_negative, positive, up_to_one, positive_up_to_one };

struct ValueRule {
  std::string_view key;
  ValueRange range;
  bool required;
  bool resistance;  ///< may be written as an IEC 60062 code
};

/// What a kind is in the equations.
enum class PartNature {
  impedance,   ///< one impedance between two nodes
  source,      ///< an independent source
  controlled,  ///< a controlled source
  coupling,    ///< passive, with four terminals
  driver       ///< expanded into parts of the other natures
};

/// What FILES.md says of a kind.
struct KindRule {
  std::string_view name;  ///< "lossy-inductor", as files write it
  PartNature nature;
  bool memoryless;  ///< what it does is the same at every frequency
  std::size_t nodes;
  std::vector<ValueRule> values;
  std::vector<ValueRule> resonance;  ///< of each [[part.resonance]]; empty where there are none
  bool control = false;              ///< names the source that it listens to
  bool file = false;                 ///< its values stand in a file of their own
};

/// All of them, in the order of PartKind.
const std::map<PartKind, KindRule>& kind_rules();
const KindRule& rule_of(PartKind kind);

/// "resonance.3.hz"; number counts from 1.
std::string resonance_key(std::size_t number, std::string_view key);
/// How many resonances the part has.
std::size_t resonance_count(const Part& part);
/// True when a driver is described by its moving mass and compliance.
bool is_mechanical(const Part& part);

/// What is wrong with the part on its own (nodes, values, alternatives of drivers), as
/// "`key` is ..." with a remedy; empty key when it is not about one value.
struct PartFault {
  std::string key;
  std::string wrong;
  std::string remedy;
};
/// Empty when all is well.
std::vector<PartFault> part_faults(const Part& part);

}  // namespace ohmtilt
