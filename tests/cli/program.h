#pragma once
// The whole program called in process: what it says, to whom, and its exit status.
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tests/support.h"

// Each test would compile the JSON library's value again; program.cpp does it once.
extern template class nlohmann::basic_json<nlohmann::ordered_map>;

namespace ohmtilt::test {

struct Ran {
  int status;
  std::string out, err;
  nlohmann::ordered_json json() const;
};

Ran run(const std::vector<std::string>& args);

std::vector<std::string> keys(const nlohmann::ordered_json& object);

/// A demo file by name.
std::string demo(const std::string& name);

/// Bad input: exit status 2, nothing on standard output, one line on standard error holding text.
void expect_refused(const Ran& ran, const std::string& text);

}  // namespace ohmtilt::test
