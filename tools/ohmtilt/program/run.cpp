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

void describe(CLI::App& program) {
  program.description(
      "What a source's output impedance does to an earphone, computed from the circuit.");
  program.footer(
      "Each command explains itself: ohmtilt COMMAND --help\n"
      "Example for the reviewer:  ohmtilt deviation impedance-curves/two-way-armature.csv "
      "--from 0.3 --to 6 --plot deviation.svg\n"
      "Example for the designer:  ohmtilt pad impedance-curves/two-way-armature.csv --source 0.3 "
      "--attenuation 10 --plot pads.svg\n"
      "Example for the owner:  ohmtilt inspect impedance-curves/two-way-armature.csv");
  program.set_help_flag("-h,--help", "print this help");
  program.set_version_flag("--version", version_text, "print the version and those of libraries");
  program.require_subcommand(1);
  program.formatter_fn([](const CLI::App* app, std::string name, CLI::AppFormatMode) {
    return help_text(command_facts(*app, name));
  });
}

struct Entry {
  const char* group;
  void (*add)(CLI::App&, Session&);
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
void build_program(CLI::App& program, Session& session) {
  program.name("ohmtilt");
  describe(program);
  for (const Entry& entry : entries) {
    entry.add(program, session);
    program.get_subcommands(std::function<bool(CLI::App*)>()).back()->group(entry.group);
  }
}

int parse(CLI::App& program, Session& session, const std::vector<std::string>& args) {
  // CLI11 takes the arguments last first.
  std::vector<std::string> reversed(args.rbegin(), args.rend());
  try {
    program.parse(reversed);
  } catch (const CLI::Success& asked) {  // --help, --version
    program.exit(asked, session.out, session.err);
    session.out.flush();
    if (!session.out) throw OutputError(unwritten_output);
    return Exit::done;
  } catch (const CLI::ParseError& error) {
    session.err << "ohmtilt: " << usage_sentence(program, error, args) << "\n";
    return Exit::bad_input;
  }
  return session.status;
}

}  // namespace

CommandFacts program_facts() {
  CLI::App program;
  std::ostream nowhere(nullptr);
  Session session{nowhere, nowhere};
  build_program(program, session);
  return command_facts(program, program.get_name());
}

int run(const std::vector<std::string>& args, std::ostream& out, std::ostream& err) {
  Session session{out, err};
  try {
    CLI::App program;
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
