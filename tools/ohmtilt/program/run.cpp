#include <ohmtilt/text/error.h>
#include <ohmtilt/text/inputs_read.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/commands.h>
#include <tools/ohmtilt/program/help_text.h>
#include <tools/ohmtilt/program/program.h>
#include <tools/ohmtilt/program/run.h>
#include <tools/ohmtilt/program/session.h>
#include <tools/ohmtilt/program/threads.h>
#include <tools/ohmtilt/program/usage_error.h>
#include <tools/ohmtilt/program/version_text.h>
#include <new>
#include <ostream>

namespace ohmtilt::cli {
namespace {

constexpr const char* program_name = "ohmtilt";

void describe(Command& program) {
  program.description(
      "What a source's output impedance does to an earphone, computed from the circuit.");
  program.footer(
      "Each command explains itself: ohmtilt COMMAND --help\n"
      "Example for the reviewer:  ohmtilt deviation impedance-curves/two-way-armature.csv "
      "--from 0.3 --to 6 --plot deviation.svg\n"
      "Example for the designer:  ohmtilt pad impedance-curves/two-way-armature.csv --source 0.3 "
      "--attenuation 10 --plot pads.svg\n"
      "Example for the owner:  ohmtilt inspect impedance-curves/two-way-armature.csv");
  program.set_version_flag("--version", version_text, "print the version and those of libraries");
  program.require_subcommand();
  program.help_writer(help_text);
}

/// Adds every command with its options, help and example.
void build_program(Command& program, Session& session) {
  describe(program);
  for (const CommandEntry& entry : commands) {
    entry.add(program, session);
    program.last_subcommand().group(entry.group);
  }
}

void say(Session& session, const std::string& text) {
  session.out << shown(text);
  if (!session.out.flush()) throw OutputError(unwritten_output);
}

/// An empty word stands for nothing: most often a shell's variable that is not set.
void refuse_empty_words(const std::vector<std::string>& args) {
  for (std::size_t i = 0; i < args.size(); ++i) {
    const bool of_flag = args[i].starts_with("--") && args[i].ends_with("=");
    const bool behind_flag = args[i].empty() && i > 0 && args[i - 1].starts_with("--");
    if (!of_flag && !args[i].empty()) continue;
    const std::string flag =
        of_flag ? args[i].substr(0, args[i].size() - 1) : args[i - behind_flag];
    throw InputError(of_flag || behind_flag ? printable(flag, 80) + " has an empty value"
                                            : "a word of the command line is empty",
                     "give one, or leave it out");
  }
}

int parse(Command& program, Session& session, const std::vector<std::string>& args) {
  refuse_empty_words(args);
  const Parsed parsed = program.parse(args);
  if (parsed.outcome == Parsed::Outcome::ran) return session.status;
  if (parsed.outcome == Parsed::Outcome::asked) {
    say(session, parsed.text);
    return Exit::done;
  }
  tell(session, usage_sentence(program.facts(), parsed, args));
  return Exit::bad_input;
}

int run(const std::vector<std::string>& args, Session& session) {
  const GrantedThreads threads;
  const InputsRead inputs;
  Command program(program_name);
  build_program(program, session);
  return parse(program, session, args);
}

}  // namespace

CommandFacts program_facts() {
  Command program(program_name);
  std::ostream nowhere(nullptr);
  Session session{Terminal(nowhere), Terminal(nowhere)};
  build_program(program, session);
  return program.facts();
}

int run(const std::vector<std::string>& args, std::ostream& out, std::ostream& err) {
  Session session{Terminal(out), Terminal(err)};
  try {
    return run(args, session);
  } catch (const InputError& error) {
    tell(session, error.what());
    return Exit::bad_input;
  } catch (const OutputError& error) {
    tell(session, error);
    return Exit::output_failed;
  } catch (const std::bad_alloc&) {
    session.err << TerminalText::written_here(
        "ohmtilt: there is not enough memory for this input; use a smaller file or fewer points\n");
    return Exit::bad_input;
  } catch (const std::exception& error) {
    tell(session, std::string("internal error: ") + error.what() + "; please report it");
    return Exit::bad_input;
  }
}

}  // namespace ohmtilt::cli
