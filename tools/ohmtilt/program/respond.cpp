// How a command gives its answer: checks first, then files, standard output and figures, each tried
// whatever became of the others.
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/output_file.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/output_names.h>
#include <tools/ohmtilt/program/run.h>
#include <tools/ohmtilt/program/session.h>
#include <new>

namespace ohmtilt::cli {
namespace {

/// Files by the flag that names them, and what stands on standard output or in a window.
struct Outputs {
  std::vector<plots::Output> figures, schematics;
  std::vector<std::filesystem::path> files;  ///< of all of them and of --csv
};

plots::Output file_output(const std::string& flag, const std::string& place,
                          const OutputOptions& options) {
  const std::string ending = lower(std::filesystem::path(place).extension().string());
  if (ending != ".svg" && ending != ".png" && ending != ".pdf")
    throw InputError(flag + " \"" + printable(place) + "\" names no kind of figure",
                     flag == "--plot" ? "end it in .svg, .png or .pdf, or say --plot text"
                                      : "end it in .svg, .png or .pdf");
  plots::Output output;
  output.file = place;
  output.replace = options.force;
  return output;
}

plots::Output text_output(Session& session, const OutputOptions& options) {
  if (options.json)
    throw InputError("--plot text and --json both want standard output", "leave one of them out");
  plots::Output output;
  output.kind = plots::Output::Kind::text;
  output.text = [&session](const std::string& figure) { session.out << shown(figure); };
  return output;
}

std::vector<plots::Output> figures(Session& session, const OutputOptions& options) {
  std::vector<plots::Output> result;
  for (const auto& place : options.plot)
    result.push_back(place == "text" ? text_output(session, options)
                                     : file_output("--plot", place, options));
  if (options.show) result.emplace_back().kind = plots::Output::Kind::window;
  return result;
}

Outputs outputs_of(Session& session, const OutputOptions& options) {
  Outputs outputs{figures(session, options), {}, {}};
  for (const auto& place : options.schematic)
    outputs.schematics.push_back(file_output("--draw", place, options));
  if (options.csv) outputs.files.emplace_back(*options.csv);
  for (auto* all : {&outputs.figures, &outputs.schematics})
    for (auto& output : *all) {
      check(output);
      output.note = [&session](const std::string& note) { tell(session, "note: " + note); };
      if (output.kind == plots::Output::Kind::file) outputs.files.push_back(output.file);
    }
  return outputs;
}

TerminalText json_text(const std::string& command, const Answer& answer) {
  Json json{{"tool", "ohmtilt"}, {"version", OHMTILT_VERSION}, {"command", command}};
  json.update(answer.json);
  json["warnings"] = Json::array();
  for (const auto* texts : {&answer.cautions, &answer.warnings})
    for (const auto& text : *texts) json["warnings"].push_back(valid_utf8(text));
  return shown_json(json.dump() + "\n");
}

void print(Session& session, const OutputOptions& options, const std::string& command,
           const Answer& answer) {
  if (options.json) {
    session.out << json_text(command, answer);
  } else {
    for (const auto& caution : answer.cautions) tell(session, "caution: " + caution);
    session.out << shown(answer.text);
    for (const auto& warning : answer.warnings) tell(session, "note: " + warning);
  }
  if (!session.out.flush()) throw OutputError(unwritten_output);
}

template <class What>
void fail(Session& session, const What& what) {
  tell(session, what);
  session.status = Exit::output_failed;
}

/// Runs one output; a failure is told and remembered, and the others still come.
void attempt(Session& session, const std::function<void()>& output) {
  try {
    output();
  } catch (const OutputError& error) {
    fail(session, error);
  } catch (const std::bad_alloc&) {
    fail(session, std::string("there is not enough memory for an output; use fewer points"));
  }
}

/// All files, before the first is written.
void check_all(Outputs outputs, const Answer& answer) {
  for (const auto& document : answer.documents) outputs.files.push_back(document.first);
  for (const auto& file : answer.files) outputs.files.push_back(file.first);
  check_outputs(outputs.files);
}

}  // namespace

void tell(Session& session, const std::string& sentence) {
  session.err << shown_line("ohmtilt: " + sentence);
}

void tell(Session& session, const OutputError& error) {
  const bool exists = dynamic_cast<const FileExists*>(&error) != nullptr;
  tell(session, std::string(error.what()) + (exists ? ", or --force to replace it" : ""));
}

void respond(Session& session, const OutputOptions& options, const std::string& command,
             const std::function<Answer()>& work) {
  const Outputs outputs = outputs_of(session, options);
  check_outputs(outputs.files);
  const Answer answer = work();
  check_all(outputs, answer);
  if (answer.limit_exceeded) session.status = Exit::limit_exceeded;
  if (options.csv)
    attempt(session, [&] { write_file(*options.csv, answer.csv.text(), options.force); });
  // No structured binding: clang 14 does not let a lambda capture one.
  for (const auto& document : answer.documents)
    attempt(session, [&] { write_file(document.first, document.second, options.force); });
  for (const auto& file : answer.files) attempt(session, [&] { file.second(options.force); });
  attempt(session, [&] { print(session, options, command, answer); });
  for (const auto& output : outputs.figures) attempt(session, [&] { answer.draw(output); });
  for (const auto& output : outputs.schematics)
    attempt(session, [&] { answer.draw_schematic(output); });
  for (const auto& failure : answer.failures) fail(session, failure);
}

}  // namespace ohmtilt::cli
