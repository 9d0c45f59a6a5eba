#include <ohmtilt/text/error.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/help_text.h>
#include <tools/ohmtilt/program/program.h>
#include <tools/ohmtilt/program/run.h>
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

struct Entry {
  const char* group;
  void (*add)(Command&, Session&);
};

/// The commands under the person who needs them first, in the order of a job.
constexpr Entry entries[] = {
    {"For the reviewer", add_deviation}, {"For the reviewer", add_damping},
    {"For the reviewer", add_headroom},  {"For the reviewer", add_hiss},
    {"For the reviewer", add_crosstalk}, {"For the reviewer", add_report},
    {"For the reviewer", add_survey},    {"For the designer", add_pad},
    {"For the designer", add_flatten},   {"For the designer", add_equalize},
    {"For the designer", add_solve},     {"For the designer", add_model},
    {"For the owner", add_acquire},      {"For the owner", add_inspect},
};

/// Adds every command with its options, help and example.
void build_program(Command& program, Session& session) {
  describe(program);
  for (const Entry& entry : entries) {
    entry.add(program, session);
    program.last_subcommand().group(entry.group);
  }
}

void say(Session& session, const std::string& text) {
  session.out << text;
  session.out.flush();
  if (!session.out) throw OutputError(unwritten_output);
}

int parse(Command& program, Session& session, const std::vector<std::string>& args) {
  const Parsed parsed = program.parse(args);
  if (parsed.outcome == Parsed::Outcome::ran) return session.status;
  if (parsed.outcome == Parsed::Outcome::asked) {
    say(session, parsed.text);
    return Exit::done;
  }
  session.err << "ohmtilt: " << usage_sentence(program.facts(), parsed, args) << "\n";
  return Exit::bad_input;
}

}  // namespace

CommandFacts program_facts() {
  Command program(program_name);
  std::ostream nowhere(nullptr);
  Session session{nowhere, nowhere};
  build_program(program, session);
  return program.facts();
}

int run(const std::vector<std::string>& args, std::ostream& out, std::ostream& err) {
  Session session{out, err};
  try {
    Command program(program_name);
    build_program(program, session);
    return parse(program, session, args);
  } catch (const InputError& error) {
    err << "ohmtilt: " << error.what() << "\n";
    return Exit::bad_input;
  } catch (const OutputError& error) {
    err << "ohmtilt: " << error.what() << "\n";
    return Exit::output_failed;
  } catch (const std::bad_alloc&) {
    err << "ohmtilt: there is not enough memory for this input; use a smaller file or fewer "
           "points\n";
    return Exit::bad_input;
  } catch (const std::exception& error) {
    err << "ohmtilt: internal error: " << error.what() << "; please report it\n";
    return Exit::bad_input;
  }
}

}  // namespace ohmtilt::cli
