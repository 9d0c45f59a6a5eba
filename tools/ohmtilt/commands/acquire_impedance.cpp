// ohmtilt acquire impedance: a two-channel recording into a curve.
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/curve_figure.h>
#include <tools/ohmtilt/commands/acquire.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/progress.h>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct ImpedanceCommand {
  AcquireFiles files;
  std::string recording;
  std::optional<std::string> stimulus, same, open, short_, known, again, write;
  AcquireOptions how;
  std::optional<double> reference_ohm, known_ohm, input_ohm, reference_tolerance_percent;
  CurveLabels labels;
  std::string from = "0";
  std::vector<std::string> to;
  OutputOptions output;
};

/// Where a recording of one signal on both channels goes.
constexpr const char* same_flag = " (--calibrate-same)";

std::string text_of(const RecordingFinding& finding) {
  return finding.text + (finding.same_tells ? same_flag : "");
}

Json findings_json(const std::vector<RecordingFinding>& findings) {
  Json json = Json::array();
  for (const RecordingFinding& finding : findings)
    json.push_back({{"kind", finding.kind}, {"text", valid_utf8(text_of(finding))}});
  return json;
}

AcquireFiles files_of(const ImpedanceCommand& command) {
  const auto path = [](const std::optional<std::string>& text) {
    return text ? std::optional<std::filesystem::path>(*text) : std::nullopt;
  };
  return {command.recording,    path(command.stimulus), path(command.same), path(command.open),
          path(command.short_), path(command.known),    path(command.again)};
}

/// What fails on the way leaves no half-told progress on the line.
Acquired acquired_with_progress(const ImpedanceCommand& command, AcquireOptions how,
                                const Session& session) {
  how.progress = progress_line(session, "recordings");
  try {
    return acquire_impedance(files_of(command), how);
  } catch (const RefusedRecording& refused) {
    if (how.progress) how.progress(1);
    throw InputError(refused, refused.same_tells ? same_flag : "");
  } catch (...) {
    if (how.progress) how.progress(1);
    throw;
  }
}

/// What the earphone just measured makes of other sources: the answer itself, in the same run.
struct Compared {
  Earphone earphone;
  Comparison comparison;
};

std::shared_ptr<const Compared> compared(const ImpedanceCommand& command,
                                         const ImpedanceCurve& curve) {
  if (command.to.empty()) return nullptr;
  const auto to = read_sources(command.to, "--to");
  const TheveninSource from = read_source(command.from);
  Earphone earphone = earphone_from_curve(curve);
  ComparisonOptions how;
  how.band = curve.range();
  if (how.band.low_hz > 1000 || how.band.high_hz < 1000) how.anchor = NoAnchor{};
  Comparison comparison = compare_sources(earphone, from, to, how);
  return std::make_shared<const Compared>(Compared{std::move(earphone), std::move(comparison)});
}

void add_comparison(const Comparison& comparison, Answer& answer) {
  Json cases = Json::array();
  for (const ComparedSource& one : comparison.cases) {
    const Deviation& d = one.deviation;
    answer.text += "\n" + printable(one.label) + " instead of " + printable(comparison.from_label) +
                   ":\n" + conclusion(one) + "\n";
    cases.push_back({{"label", valid_utf8(one.label)},
                     {"level_change_db", d.level_change_db},
                     {"rise", extreme_json(d.rise)},
                     {"fall", extreme_json(d.fall)},
                     {"span_db", d.span_db}});
  }
  answer.json["deviation"] = {{"from", valid_utf8(comparison.from_label)}, {"cases", cases}};
  answer.warnings.insert(answer.warnings.end(), comparison.warnings.begin(),
                         comparison.warnings.end());
}

/// |Z| and phase, or with sources the deviation over them.
void draw_measured(const ImpedanceCurve& curve, const std::shared_ptr<const Compared>& found,
                   const plots::Output& output) {
  if (found) return plots::draw(figure_of(found->earphone, found->comparison), output);
  plots::CurveFigure figure;
  figure.conclusion = "Measured impedance: " + ohm_text(curve.magnitude_ohm().minCoeff()) + " to " +
                      ohm_text(curve.magnitude_ohm().maxCoeff());
  figure.curve_title = curve.notes().title;
  figure.caption = curve.notes().condition.empty() ? curve.notes().origin : curve.notes().condition;
  figure.frequency_hz = curve.frequency_hz();
  figure.magnitude_ohm = curve.magnitude_ohm();
  figure.phase_deg = unwrapped_deg(curve.phase_deg());
  plots::draw(figure, output);
}

Answer impedance_answer(const ImpedanceCommand& command, const Session& session) {
  AcquireOptions how = command.how;
  if (command.again && !command.same)
    throw InputError("--calibrate-again tells nothing without --calibrate-same", "give both");
  if (command.known.has_value() != command.known_ohm.has_value())
    throw InputError("--calibrate-known and --known-ohm go together", "give both or neither");
  how.known_ohm = command.known_ohm.value_or(0);
  how.impedance.reference_ohm = *command.reference_ohm;
  how.impedance.reference_tolerance_percent = command.reference_tolerance_percent.value_or(0);
  if (command.input_ohm) how.impedance.input_ohm = *command.input_ohm;
  const Acquired acquired = acquired_with_progress(command, how, session);
  const bool exact = !command.reference_tolerance_percent;
  const ImpedanceCurve curve =
      labelled(acquired.curve, command.labels, exact ? "the reference taken as exact" : "");
  const ComplexArray z = curve.impedance_ohm();
  Answer answer;
  answer.text = curve_summary(curve) + curve_table(curve, curve.phase_deg()) + "\n";
  for (const auto& note : acquired.removed) answer.text += note + "\n";
  if (!acquired.assumed.empty()) answer.text += "assumed: " + listed(acquired.assumed) + "\n";
  for (const RecordingFinding& finding : acquired.findings)
    answer.warnings.push_back(text_of(finding));
  if (exact) answer.warnings.emplace_back(exact_reference);
  answer.json = {{"frequency_hz", json_array(curve.frequency_hz())},
                 {"real_ohm", json_array(z.real())},
                 {"imag_ohm", json_array(z.imag())},
                 {"uncertainty_ohm", json_array(curve.uncertainty_ohm())},
                 {"coherence", json_array(acquired.coherence)},
                 {"findings", findings_json(acquired.findings)},
                 {"removed", acquired.removed},
                 {"assumed", acquired.assumed}};
  answer.csv.add("frequency_hz", curve.frequency_hz());
  answer.csv.add("real_ohm", z.real());
  answer.csv.add("imag_ohm", z.imag());
  answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm());
  answer.csv.add("coherence", acquired.coherence);
  if (command.write) answer.documents.push_back({*command.write, curve_text(curve)});
  const auto found = compared(command, curve);
  answer.json["deviation"] = nullptr;
  if (found) add_comparison(found->comparison, answer);
  answer.draw = [curve, found](const plots::Output& output) {
    draw_measured(curve, found, output);
  };
  return answer;
}

}  // namespace

void add_impedance(Command& acquire, Session& session) {
  auto o = std::make_shared<ImpedanceCommand>();
  Command& command =
      *acquire.add_subcommand("impedance", "A two-channel recording into an impedance curve");
  command.footer(
      acquire_caution_footer() +
      "With --stimulus a sweep is undone; without it, noise or music is averaged. Record the same "
      "signal on both channels too and give it as --calibrate-same: most of a sound card's error "
      "goes. Leave volume and gains alone in between; the same recorded last, --calibrate-again, "
      "tells whether they stayed.\n"
      "Example:  ohmtilt acquire impedance impedance-curves/bench/recording.wav --reference 22 "
      "--band 50-10000 --write mine.csv");
  command.add_option("recording", o->recording, "WAV, channel 1 across reference plus earphone")
      ->required();
  add_reference_option(command, o->reference_ohm)->required();
  add_reference_tolerance_option(command, o->reference_tolerance_percent);
  add_wiring_option(command, o->how.impedance.wiring);
  command.add_option("--stimulus", o->stimulus, "the sound that was played; without it, averaging")
      ->type_name("FILE");
  command.add_option("--calibrate-same", o->same, "recording, both channels on one signal")
      ->type_name("FILE");
  command.add_option("--calibrate-open", o->open, "recording, nothing connected")
      ->type_name("FILE");
  command.add_option("--calibrate-short", o->short_, "recording, a short for the earphone")
      ->type_name("FILE");
  command.add_option("--calibrate-known", o->known, "recording, a known resistor for the earphone")
      ->type_name("FILE");
  command
      .add_option("--calibrate-again", o->again,
                  "recording like that of --calibrate-same, taken last: tells whether a gain moved")
      ->type_name("FILE");
  const NumberRule ohm{.unit = "OHM", .least = 0, .inside = true};
  const NumberRule percent{.unit = "PERCENT", .least = 0, .most = 100};
  command.add_number("--known-ohm", o->known_ohm, ohm, "that resistor, ohm");
  command.add_number("--known-tolerance-percent", o->how.known_tolerance_percent, percent,
                     "its tolerance, %");
  NumberRule input = ohm;
  input.otherwise = "not told: 10 kohm or more";
  command.add_number("--input-ohm", o->input_ohm, input, "input resistance of channel 2, ohm");
  command.add_number("--lead-ohm", o->how.impedance.lead_limit_ohm, {.unit = "OHM", .least = 0},
                     "what leads and contacts may add where no short tells it, ohm");
  command.add_number("--mismatch-percent", o->how.impedance.mismatch_percent, percent,
                     "how far the channels' gains may differ where no calibration tells, % (common "
                     "practice, no source)");
  command.add_number("--per-octave", o->how.transfer.per_octave,
                     {.unit = "N", .least = 1, .most = 200}, "points an octave, and the smoothing");
  add_band_option(command, o->how.transfer.band);
  add_label_options(command, o->labels);
  command.add_option("--write", o->write, "write the curve to this file")->type_name("FILE");
  add_from_option(command, o->from, "with --to: the source to compare from");
  add_to_option(command, o->to, "also answer what this source does to the response");
  add_output_options(command, o->output);
  command.callback([o, &session] {
    respond(session, o->output, "acquire impedance", [&] { return impedance_answer(*o, session); });
  });
}

}  // namespace ohmtilt::cli
