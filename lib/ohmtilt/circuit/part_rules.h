#pragma once
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

/// What FILES.md says of a kind.
struct KindRule {
  std::size_t nodes;
  std::vector<ValueRule> values;
  std::vector<ValueRule> resonance;  ///< of each [[part.resonance]]; empty where there are none
  bool control = false;
};

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
