#pragma once
// How the commands define their options. The library that reads the command line is known to
// command_line.cpp only: it costs each file that includes it seconds.
#include <algorithm>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <variant>
#include <vector>

#include <tools/ohmtilt/program/command_facts.h>

namespace CLI {
class App;
class Option;
}  // namespace CLI

namespace ohmtilt::cli {

/// What a number of the command line is: what stands for it in the help, and where it may lie.
/// Bounds that are given stand in the help, and what lies outside is refused; where none are, the
/// library refuses what it cannot work with.
struct NumberRule {
  const char* unit = "NUMBER";
  double least = -std::numeric_limits<double>::infinity();
  double most = std::numeric_limits<double>::infinity();
  bool whole = false;
  bool inside = false;  ///< the bounds themselves are not allowed
  /// For an optional number: what is done without it, in the help's brackets.
  const char* otherwise = "";
};

/// A number as the user writes it for flag: a decimal number as in a file, finite, within the rule.
/// Throws InputError naming the flag and what it would take.
double flag_number(const std::string& text, const std::string& flag, const NumberRule& rule = {});

/// One option or argument, while it is being defined: each call says more of it, as in
/// command.add_option(...)->required()->type_name("FILE").
class Option {
 public:
  explicit Option(CLI::Option* option) : option_(option) {}
  Option* operator->() { return this; }
  Option& required();
  Option& type_name(const std::string& name);  ///< what stands for the value in the help
  Option& delimiter(char between);             ///< "a,b" is two values
  Option& expected(int least, int most);       ///< so many values
  Option& sets(bool& flag);                    ///< flag becomes true where the option is given

 private:
  CLI::Option* option_;
};

/// What came of reading a command line.
struct Parsed {
  enum class Outcome { ran, asked, missing, count, extras, other };
  Outcome outcome = Outcome::ran;  ///< asked: --help or --version; beyond it a fault
  std::string text;                ///< what was asked for, or the library's words on the fault
};

/// A command with its options and the commands below it; the program itself is one.
class Command {
 public:
  /// The program.
  explicit Command(const std::string& name);
  ~Command();
  Command(Command&&) = delete;

  /// The command stays where it is as long as this one. What an option fills must outlive it, too.
  Command* add_subcommand(const std::string& name, const std::string& description);

  /// Text, or several texts. name: "-o,--output", or bare for an argument. value: where it goes,
  /// and what stays there where none is given.
  template <class Value>
  Option add_option(const std::string& name, Value& value, const std::string& description) {
    return add(name, Target(&value), description);
  }
  /// A number, which the user writes as in a file. What stands in value is the default that the
  /// help names; an optional one has none, and rule.otherwise says what is done without it.
  template <class Value>
  Option add_number(const std::string& name, Value& value, const NumberRule& rule,
                    const std::string& description) {
    if constexpr (requires { value.has_value(); }) {
      using Number = typename Value::value_type;
      return add_number(name, rule, held_by<Number>(rule), description, std::nullopt,
                        [&value](double given) { value = static_cast<Number>(given); });
    } else {
      return add_number(name, rule, held_by<Value>(rule), description, static_cast<double>(value),
                        [&value](double given) { value = static_cast<Value>(given); });
    }
  }
  /// One of a few words, each for a value. What stands in value is the default that the help names.
  template <class Value>
  Option add_choice(const std::string& name, Value& value,
                    const std::vector<std::pair<std::string, Value>>& choices,
                    const std::string& description) {
    std::vector<std::string> words;
    std::string usual;
    for (const auto& [word, meaning] : choices) {
      words.push_back(word);
      if (meaning == value) usual = word;
    }
    return add_choice(name, words, usual, description,
                      [&value, choices](std::size_t which) { value = choices[which].second; });
  }
  /// Hands the text to take, which may throw.
  Option add_option_function(const std::string& name,
                             const std::function<void(const std::string&)>& take,
                             const std::string& description);
  void add_flag(const std::string& name, bool& value, const std::string& description);

  void description(const std::string& text);
  /// Notes and examples below the help (command_facts.h says how they are told apart).
  void footer(const std::string& text);
  /// The heading under which the program lists it.
  void group(const std::string& title);
  void require_subcommand();
  Command& last_subcommand() { return *commands_.back(); }
  /// What is done when the command was called.
  void callback(const std::function<void()>& run);
  void set_version_flag(const std::string& name, const std::function<std::string()>& text,
                        const std::string& description);
  /// What writes the help of this command and of those that are added later.
  void help_writer(const std::function<std::string(const CommandFacts&)>& write);

  CommandFacts facts() const;
  /// Reads args (without the program's name) and runs what they ask for. Throws what that throws.
  Parsed parse(const std::vector<std::string>& args);

 private:
  using Target = std::variant<std::string*, std::optional<std::string>*, std::vector<std::string>*>;
  explicit Command(CLI::App* app);
  Option add(const std::string& name, Target target, const std::string& description);
  /// The rule, and no number that a whole Number does not hold.
  template <class Number>
  static NumberRule held_by(NumberRule rule) {
    if constexpr (std::is_integral_v<Number>) {
      using Limits = std::numeric_limits<Number>;
      rule.least = std::max(rule.least, static_cast<double>(Limits::lowest()));
      rule.most = std::min({rule.most, static_cast<double>(Limits::max()), 0x1p53});
    }
    return rule;
  }
  Option add_number(const std::string& name, const NumberRule& stated, const NumberRule& allowed,
                    const std::string& description, std::optional<double> usual,
                    const std::function<void(double)>& take);
  Option add_choice(const std::string& name, const std::vector<std::string>& words,
                    const std::string& usual, const std::string& description,
                    const std::function<void(std::size_t)>& take);

  std::unique_ptr<CLI::App> program_;  ///< where this is the program
  CLI::App* app_;
  std::vector<std::unique_ptr<Command>> commands_;
};

/// The library and its version: "CLI11 2.1.2".
std::string command_line_library();

}  // namespace ohmtilt::cli
