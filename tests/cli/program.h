#pragma once
// The whole program called in process: what it says, to whom, and its exit status.
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tests/support.h"

// Each test would compile the JSON library's value again; program.cpp does it once.
extern template class nlohmann::basic_json<nlohmann::ordered_map>;

namespace ohmtilt::test {

using Names = std::vector<std::string>;
using OrderedJson = nlohmann::ordered_json;

struct Ran {
  int status;
  std::string out, err;
  nlohmann::ordered_json json() const;
};

Ran run(const std::vector<std::string>& args);

inline double number(const OrderedJson& json) { return json.get<double>(); }

std::vector<std::string> keys(const nlohmann::ordered_json& object);

/// A demo file by name; and those that most commands are tried on.
std::string demo(const std::string& name);
inline const std::string bare = demo("bare-output.chain.toml");
inline const std::string engaged = demo("attenuator-engaged.chain.toml");
inline const std::string pair = demo("two-way-armature.earphone.toml");

/// A chain file: a resistance with a title.
std::string chain_of(const std::string& title, double ohm);

/// A command line with more at its end.
std::vector<std::string> with(std::vector<std::string> args, const std::vector<std::string>& more);

std::vector<std::string> lines_of(const std::string& text);

/// Bad input: exit status 2, nothing on standard output, one line on standard error holding text.
void expect_refused(const Ran& ran, const std::string& text);

}  // namespace ohmtilt::test
