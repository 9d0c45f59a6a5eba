#pragma once
// The limits of `ohmtilt pad` that are exceeded, said in words.
#include <string>
#include <vector>

#include <ohmtilt/design/pad/pad_limits.h>
#include <ohmtilt/design/pad/switched_attenuator.h>

namespace ohmtilt::cli {

/// "span 2.95 dB, at most 1 dB", one a limit.
std::vector<std::string> limit_texts(const std::vector<LimitExcess>& excesses);
/// Each names its step: "span 2.95 dB, at most 1 dB (step of 6 dB)".
std::vector<std::string> limit_texts(const std::vector<SwitchExcess>& excesses);

/// The texts, with semicolons between.
std::string said(const std::vector<std::string>& texts);

}  // namespace ohmtilt::cli
