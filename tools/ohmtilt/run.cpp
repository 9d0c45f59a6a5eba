#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <tools/ohmtilt/command.h>
#include <tools/ohmtilt/run.h>
#include <new>
#include <ostream>

namespace ohmtilt::cli {
namespace {

void describe(CLI::App& program) {
  program.description(
      "What a source's output impedance does to an earphone, computed from the circuit.");
  program.footer(
      "An example for each:\n"
      "  reviewer  ohmtilt deviation EARPHONE.csv --from 0.3 --to 6 --plot deviation.svg\n"
      "  designer  ohmtilt pad EARPHONE.csv --source 0.3 --attenuation 10 --plot pads.svg\n"
      "  owner     ohmtilt inspect MY-CURVE.csv\n"
      "Each command explains itself: ohmtilt COMMAND --help");
  program.set_version_flag("--version", "ohmtilt " OHMTILT_VERSION);
  program.require_subcommand(1);
  program.get_formatter()->column_width(34);
}

/// The commands under the person who needs them first, in the order of a job.
void arrange(CLI::App& program) {
  const std::vector<std::pair<const char*, std::vector<const char*>>> groups{
      {"For the reviewer",
       {"deviation", "damping", "headroom", "hiss", "crosstalk", "report", "survey"}},
      {"For the designer", {"pad", "flatten", "equalize", "solve", "model"}},
      {"For the owner", {"acquire", "inspect"}}};
  for (const auto& [group, names] : groups)
    for (const char* name : names) program.get_subcommand(name)->group(group);
}

int parse(CLI::App& program, Session& session, const std::vector<std::string>& args) {
  // CLI11 takes the arguments last first.
  std::vector<std::string> reversed(args.rbegin(), args.rend());
  try {
    program.parse(reversed);
  } catch (const CLI::Success& asked) {  // --help, --version
    program.exit(asked, session.out, session.err);
    return Exit::done;
  } catch (const CLI::ParseError& error) {
    session.err << "ohmtilt: " << printable(error.what(), 1000)
                << "; see ohmtilt --help, or ohmtilt COMMAND --help\n";
    return Exit::bad_input;
  }
  return session.status;
}

}  // namespace

int run(const std::vector<std::string>& args, std::ostream& out, std::ostream& err) {
  Session session{out, err};
  try {
    CLI::App program;
    program.name("ohmtilt");
    describe(program);
    add_deviation(program, session);
    add_damping(program, session);
    add_acquire(program, session);
    add_equalize(program, session);
    add_flatten(program, session);
    add_pad(program, session);
    add_solve(program, session);
    add_inspect(program, session);
    add_model(program, session);
    add_headroom(program, session);
    add_hiss(program, session);
    add_crosstalk(program, session);
    add_survey(program, session);
    add_report(program, session);
    arrange(program);
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
