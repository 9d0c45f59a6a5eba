#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <sstream>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/command_line.h>

namespace ohmtilt::cli {
namespace {

std::vector<std::string> split(const std::string& text, char at) {
  std::vector<std::string> parts;
  std::istringstream stream(text);
  for (std::string part; std::getline(stream, part, at);) parts.push_back(part);
  return parts;
}

bool names_file(const std::string& value) {
  return value.starts_with("FILE") || value == "SOURCE" || value == "CHAIN" || value == "FOLDER";
}

OptionFacts option_facts(const CLI::Option& option) {
  OptionFacts facts;
  for (const auto& name : option.get_snames()) facts.flags.push_back("-" + name);
  for (const auto& name : option.get_lnames()) facts.flags.push_back("--" + name);
  if (option.get_positional()) facts.flags = {option.get_name(true, false)};
  if (option.get_type_size() != 0) facts.value = option.get_type_name();
  if (facts.value == "TEXT") facts.value = "FILE";  // CLI11's word where none was given
  if (facts.value.find('|') != std::string::npos) facts.choices = split(facts.value, '|');
  facts.description = option.get_description();
  facts.takes_file = names_file(facts.value);
  facts.many = option.get_expected_max() == CLI::detail::expected_max_vector_size;
  facts.required = option.get_required();
  return facts;
}

void read_footer(const std::string& footer, CommandFacts& facts) {
  for (const auto& line : split(footer, '\n')) {
    const auto command = line.find(":  ohmtilt ");
    if (line.starts_with("Example") && command != std::string::npos)
      facts.examples.push_back({line.substr(0, command), line.substr(command + 3)});
    else if (!trimmed(line).empty())
      facts.notes.push_back(line);
  }
}

/// Of app and of all commands below it. path is how app is called.
CommandFacts command_facts(const CLI::App& app, const std::string& path) {
  CommandFacts facts;
  facts.path = path;
  facts.name = app.get_name();
  facts.group = app.get_group();
  facts.description = app.get_description();
  read_footer(app.get_footer(), facts);
  for (const CLI::Option* option : app.get_options())
    if (!option->get_group().empty())
      (option->get_positional() ? facts.arguments : facts.options).push_back(option_facts(*option));
  for (const CLI::App* command : app.get_subcommands({}))
    facts.commands.push_back(command_facts(*command, path + " " + command->get_name()));
  return facts;
}

/// The output of --help and --version.
std::string asked_text(CLI::App& app, const CLI::Success& asked) {
  std::ostringstream text;
  app.exit(asked, text, text);
  return text.str();
}

/// "a whole number from 2 to 20000"; "a number above 0"; "a number, such as 12.5".
std::string wanted(const NumberRule& rule) {
  const std::string what = rule.whole ? "a whole number" : "a number";
  const std::string least = number_text(rule.least), most = number_text(rule.most);
  if (std::isfinite(rule.least) && std::isfinite(rule.most))
    return what + (rule.inside ? " between " + least + " and " : " from " + least + " to ") + most;
  if (std::isfinite(rule.least))
    return what + (rule.inside ? " above " + least : " of " + least + " or more");
  if (std::isfinite(rule.most))
    return what + (rule.inside ? " below " + most : " of " + most + " or less");
  return what + (rule.whole ? ", such as 12" : ", such as 12.5");
}

bool is_within(double value, const NumberRule& rule) {
  if (rule.whole && value != std::floor(value)) return false;
  return rule.inside ? value > rule.least && value < rule.most
                     : value >= rule.least && value <= rule.most;
}

/// ", 2 to 20000", where there are both bounds and the upper one is not that of whole numbers.
std::string bounds_text(const NumberRule& rule) {
  if (!std::isfinite(rule.least) || !(rule.most < 0x1p53)) return "";
  return ", " + number_text(rule.least) + " to " + number_text(rule.most);
}

std::string joined(const std::vector<std::string>& words, const std::string& between) {
  std::string all;
  for (const auto& word : words) all += (all.empty() ? "" : between) + word;
  return all;
}

/// "complex, real or imaginary".
std::string alternatives(const std::vector<std::string>& words) {
  const std::vector<std::string> before(words.begin(), words.end() - 1);
  return joined(before, ", ") + " or " + words.back();
}

Parsed::Outcome fault(const CLI::ParseError& error) {
  if (dynamic_cast<const CLI::RequiredError*>(&error)) return Parsed::Outcome::missing;
  if (dynamic_cast<const CLI::ArgumentMismatch*>(&error)) return Parsed::Outcome::count;
  if (dynamic_cast<const CLI::ExtrasError*>(&error)) return Parsed::Outcome::extras;
  return Parsed::Outcome::other;
}

}  // namespace

double flag_number(const std::string& text, const std::string& flag, const NumberRule& rule) {
  const auto value = parse_number(text);
  if (!value || !std::isfinite(*value))
    throw InputError(flag + " \"" + printable(text) + "\" is not a number", "give " + wanted(rule));
  if (!is_within(*value, rule))
    throw InputError(flag + " " + printable(text) + " is not allowed", "give " + wanted(rule));
  return *value;
}

Option& Option::required() {
  option_->required();
  return *this;
}

Option& Option::type_name(const std::string& name) {
  option_->type_name(name);
  return *this;
}

Option& Option::delimiter(char between) {
  option_->delimiter(between);
  return *this;
}

Option& Option::expected(int least, int most) {
  option_->expected(least, most);
  return *this;
}

Option& Option::sets(bool& flag) {
  option_->each([&flag](const std::string&) { flag = true; });
  return *this;
}

Command::Command(const std::string& name)
    : program_(std::make_unique<CLI::App>()), app_(program_.get()) {
  app_->name(name);
  app_->set_help_flag("-h,--help", "print this help");
}

Command::Command(CLI::App* app) : app_(app) {}

Command::~Command() = default;

Command* Command::add_subcommand(const std::string& name, const std::string& description) {
  CLI::App* const app = app_->add_subcommand(name, description);
  commands_.push_back(std::unique_ptr<Command>(new Command(app)));
  return commands_.back().get();
}

Option Command::add(const std::string& name, Target target, const std::string& description) {
  return std::visit(
      [&](auto* value) { return Option(app_->add_option(name, *value, description)); }, target);
}

Option Command::add_option_function(const std::string& name,
                                    const std::function<void(const std::string&)>& take,
                                    const std::string& description) {
  return Option(app_->add_option_function<std::string>(name, take, description));
}

Option Command::add_number(const std::string& name, const NumberRule& stated,
                           const NumberRule& allowed, const std::string& description,
                           std::optional<double> usual, const std::function<void(double)>& take) {
  const std::string without = usual ? number_text(*usual) : std::string(stated.otherwise);
  const std::string by_default = without.empty() ? "" : " [" + without + "]";
  const auto read = [name, stated, allowed, take](const std::string& text) {
    flag_number(text, name, stated);  // refuses by what the definition says, where it can
    take(flag_number(text, name, allowed));
  };
  return add_option_function(name, read, description + bounds_text(stated) + by_default)
      ->type_name(stated.unit);
}

Option Command::add_choice(const std::string& name, const std::vector<std::string>& words,
                           const std::string& usual, const std::string& description,
                           const std::function<void(std::size_t)>& take) {
  const auto chosen = [name, words, take](const std::string& text) {
    const auto found = std::find(words.begin(), words.end(), text);
    if (found == words.end())
      throw InputError(name + " \"" + printable(text) + "\" is not known",
                       "say " + alternatives(words));
    take(static_cast<std::size_t>(found - words.begin()));
  };
  return add_option_function(name, chosen, description + (usual.empty() ? "" : " [" + usual + "]"))
      ->type_name(joined(words, "|"));
}

void Command::add_flag(const std::string& name, bool& value, const std::string& description) {
  app_->add_flag(name, value, description);
}

void Command::description(const std::string& text) { app_->description(text); }

void Command::footer(const std::string& text) { app_->footer(text); }

void Command::group(const std::string& title) { app_->group(title); }

void Command::require_subcommand() { app_->require_subcommand(1); }

void Command::callback(const std::function<void()>& run) { app_->callback(run); }

void Command::set_version_flag(const std::string& name, const std::function<std::string()>& text,
                               const std::string& description) {
  app_->set_version_flag(name, text, description);
}

void Command::help_writer(const std::function<std::string(const CommandFacts&)>& write) {
  app_->formatter_fn([write](const CLI::App* app, const std::string& path, CLI::AppFormatMode) {
    return write(command_facts(*app, path));
  });
}

CommandFacts Command::facts() const { return command_facts(*app_, app_->get_name()); }

Parsed Command::parse(const std::vector<std::string>& args) {
  // CLI11 takes the arguments last first.
  std::vector<std::string> reversed(args.rbegin(), args.rend());
  try {
    app_->parse(reversed);
  } catch (const CLI::Success& asked) {
    return {Parsed::Outcome::asked, asked_text(*app_, asked)};
  } catch (const CLI::ParseError& error) {
    return {fault(error), error.what()};
  }
  return {};
}

std::string command_line_library() { return "CLI11 " CLI11_VERSION; }

}  // namespace ohmtilt::cli
