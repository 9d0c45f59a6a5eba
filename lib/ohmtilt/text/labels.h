#pragma once
#include <string>
#include <vector>

namespace ohmtilt {

/// Labels of things read from files (an empty file name: from none), equal ones told apart by what
/// differs: the file's name behind them ("Amplifier [a.toml]"), its path where these are equal too,
/// or, of one file or number given twice, which of them it is ("6 ohm (2)").
std::vector<std::string> distinct_labels(const std::vector<std::string>& labels,
                                         const std::vector<std::string>& files);

}  // namespace ohmtilt
