// ohmtilt acquire readings and acquire source: a meter's readings into a curve, or into an output
// impedance.
#include <fmt/format.h>

#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/source_impedance.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/acquire.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

/// What a meter's data sheet says. Not said is not zero: then the uncertainty is not known.
struct MeterLimits {
  std::optional<double> percent, counts_volt;
  bool said() const { return percent || counts_volt; }
  template <class Accuracy>
  void put_into(Accuracy& accuracy) const {
    accuracy.meter_percent = percent.value_or(0);
    accuracy.meter_counts_volt = counts_volt.value_or(0);
  }
};

void add_meter_options(Command& command, MeterLimits& meter, bool& correlated) {
  command.add_number("--meter-percent", meter.percent,
                     {.unit = "PERCENT", .least = 0, .otherwise = "not known"},
                     "the meter's limit of error, % of reading");
  command.add_number("--meter-counts-volt", meter.counts_volt,
                     {.unit = "VOLT", .least = 0, .otherwise = "not known"},
                     "fixed part of the meter's error, in volt");
  command.add_flag("--correlated", correlated,
                   "all readings with one meter on one range: its percentage is a common error");
}

struct ReadingsCommand {
  std::string file;
  std::optional<double> reference_ohm;
  std::optional<double> reference_tolerance_percent;
  MeterLimits meter;
  ReadingAccuracy accuracy;
  CurveLabels labels;
  std::optional<std::string> write;
  OutputOptions output;
};

/// The phase goes under a name that says where it is from; a computed one is no measured phase.
void add_phase(const ReadImpedance& read, bool uncertainty_known, Answer& answer) {
  const bool measured = read.phase_source == PhaseSource::triangle;
  const bool computed = read.phase_source == PhaseSource::computed;
  const bool uncertain = (measured || computed) && uncertainty_known;
  answer.json["phase_deg"] = measured ? json_array(read.phase_deg) : Json(nullptr);
  answer.json["computed_phase_deg"] = computed ? json_array(read.phase_deg) : Json(nullptr);
  answer.json["phase_uncertainty_deg"] =
      uncertain ? json_array(read.phase_uncertainty_deg) : Json(nullptr);
  if (measured) answer.csv.add("phase_deg", read.phase_deg);
  if (computed) answer.csv.add("computed_phase_deg", read.phase_deg);
  if (uncertain) answer.csv.add("phase_uncertainty_deg", read.phase_uncertainty_deg);
}

std::string phase_note(PhaseSource source) {
  switch (source) {
    case PhaseSource::none:
      return "";
    case PhaseSource::computed:
      return "The phase is computed; the curve's file holds magnitudes alone.\n";
    case PhaseSource::triangle:
      return "The phase's size is from the triangle of the three voltages, its sign and small "
             "angles are computed;\nthe curve's file holds magnitudes alone.\n";
  }
  return "";
}

Answer readings_answer(const ReadingsCommand& command) {
  Answer answer;
  const MeterReadings readings = read_meter_readings(command.file, answer.warnings);
  ReadingAccuracy accuracy = command.accuracy;
  command.meter.put_into(accuracy);
  accuracy.reference_tolerance_percent = command.reference_tolerance_percent.value_or(0);
  if (!command.reference_ohm && method_for(readings) != ReadingMethod::current)
    throw InputError("these columns need the reference's resistance",
                     "give it in ohm, such as --reference 22");
  const ReadImpedance read =
      impedance_of_readings(readings, command.reference_ohm.value_or(0), accuracy);
  answer.warnings.insert(answer.warnings.end(), read.warnings.begin(), read.warnings.end());
  const bool known = command.meter.said();
  const bool exact =
      known && read.method != ReadingMethod::current && !command.reference_tolerance_percent;
  if (!known)
    answer.warnings.push_back(
        "the uncertainty is not known: give --meter-percent, and --reference-tolerance-percent "
        "where a reference was used");
  if (exact) answer.warnings.emplace_back(exact_reference);
  const ImpedanceCurve curve =
      labelled(read.curve, command.labels, exact ? "the reference taken as exact" : "", known);
  answer.text = to_string(read.method) + "\n" + curve_summary(curve) +
                curve_table(curve, read.phase_deg) + phase_note(read.phase_source);
  answer.json = {{"frequency_hz", json_array(curve.frequency_hz())},
                 {"magnitude_ohm", json_array(curve.magnitude_ohm())},
                 {"uncertainty_ohm", known ? json_array(curve.uncertainty_ohm()) : Json(nullptr)},
                 {"method", to_string(read.method)}};
  answer.csv.add("frequency_hz", curve.frequency_hz());
  answer.csv.add("magnitude_ohm", curve.magnitude_ohm());
  if (known) answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm());
  add_phase(read, known, answer);
  if (command.write) answer.documents.push_back({*command.write, curve_text(curve)});
  return answer;
}

struct SourceCommand {
  std::string file;
  MeterLimits meter;
  std::optional<double> load_percent;
  SourceAccuracy accuracy;
  CurveLabels labels;
  std::optional<std::string> write;
  OutputOptions output;

  /// Something was said of the errors; what was not said of them counts as nothing, with a note.
  bool known() const { return meter.said() || load_percent; }
};

std::string remark_on_errors(const SourceCommand& command) {
  if (!command.known())
    return "the uncertainty is not known: give --meter-percent and --load-percent";
  if (!command.load_percent)
    return "the loads were taken as exact: give --load-percent (0 if they are)";
  return command.meter.said() ? "" : "the meter was taken as exact: give --meter-percent";
}

/// To this ending; else what another command reads would not be read as what it is.
void check_ending(const std::string& place, const std::string& ending, const std::string& what) {
  if (lower(place).ends_with(ending)) return;
  throw InputError("--write \"" + printable(place) + "\" does not name " + what,
                   "end it in " + ending);
}

/// A curve's magnitudes are positive: this stands for zero.
constexpr double least_curve_ohm = 1e-6;

/// That what was read below least_ohm is written as that, of the lowest one; empty where nothing
/// is. frequency_hz is empty for a single value.
std::string remark_on_raised(const Array& output_ohm, const Array& frequency_hz, double least_ohm) {
  Eigen::Index lowest = 0;
  if (!(output_ohm.minCoeff(&lowest) < least_ohm)) return "";
  const Eigen::Index others = (output_ohm < least_ohm).count() - 1;
  return fmt::format(
      "an output impedance of {}{} is written as {} ohm{}", ohm_text(output_ohm[lowest]),
      frequency_hz.size() > 0 ? " at " + hz_text(frequency_hz[lowest]) : "", number_text(least_ohm),
      others == 0 ? ""
                  : fmt::format(", and so is what was read at {} other {}", others,
                                others == 1 ? "frequency" : "frequencies"));
}

/// What the file says of the source besides its numbers. remark may be empty.
CurveNotes source_notes(const SourceCommand& command, const std::string& remark) {
  CurveNotes notes;
  notes.title = command.labels.title.value_or("output of " +
                                              std::filesystem::path(command.file).stem().string());
  notes.condition = command.labels.condition.value_or("");
  notes.origin = "voltages at known loads; taken as a resistance";
  if (!remark.empty()) notes.origin += "; " + remark;
  return notes;
}

/// A line of a chain file that its readers pass over; empty without text.
std::string comment_line(const std::string& key, const std::string& text) {
  const std::string line = one_line(trimmed(text));
  return line.empty() ? "" : "# " + key + ": " + line + "\n";
}

/// The source as a chain file. The voltage without load is that of the reading and no limit, so it
/// is left out.
std::string written_chain(double output_ohm, const CurveNotes& notes) {
  Source found;
  found.output_ohm = output_ohm;
  return comment_line("condition", notes.condition) + comment_line("origin", notes.origin) +
         chain_text(Chain(notes.title, found, {}));
}

/// Adds the file that --write asks for, with a warning where it cannot say what was read.
void write_single(const SourceImpedance& source, const SourceCommand& command, Answer& answer) {
  if (!command.write) return;
  check_ending(*command.write, ".toml", "a chain file");
  const std::string remark = remark_on_raised(Array::Constant(1, source.output_ohm), {}, 0);
  if (!remark.empty()) answer.warnings.push_back(remark);
  answer.documents.emplace_back(*command.write, written_chain(std::max(source.output_ohm, 0.0),
                                                              source_notes(command, remark)));
}

void write_curve(const SourceCurve& curve, const SourceCommand& command, Answer& answer) {
  if (!command.write) return;
  check_ending(*command.write, ".csv", "a curve");
  const std::string remark =
      remark_on_raised(curve.output_ohm, curve.frequency_hz, least_curve_ohm);
  if (!remark.empty()) answer.warnings.push_back(remark);
  const Array phase_deg = Array::Zero(curve.frequency_hz.size());  // taken as a resistance
  answer.documents.emplace_back(
      *command.write,
      curve_text(ImpedanceCurve(source_notes(command, remark), curve.frequency_hz,
                                curve.output_ohm.max(least_curve_ohm), phase_deg,
                                command.known() ? curve.uncertainty_ohm : Array())));
}

Answer single_source(const SourceReadings& readings, const SourceAccuracy& accuracy,
                     const SourceCommand& command) {
  const SourceImpedance source = source_impedance(readings.readings, accuracy);
  const bool known = command.known();
  Answer answer;
  answer.text =
      fmt::format("output impedance {}; open-circuit {} V\n",
                  known ? with_uncertainty(source.output_ohm, 2 * source.uncertainty_ohm) +
                              " ohm (two standard uncertainties)"
                        : ohm_text(source.output_ohm) +
                              ", uncertainty not known (give --meter-percent, --load-percent)",
                  number_text(std::round(source.open_volt * 1e6) / 1e6));
  answer.warnings = source.warnings;
  answer.json = {{"output_ohm", source.output_ohm},
                 {"uncertainty_ohm", known ? Json(source.uncertainty_ohm) : Json(nullptr)},
                 {"frequency_hz", nullptr},
                 {"better_load_ohm", known ? json_number(source.better_load_ohm) : Json(nullptr)}};
  answer.csv.add("output_ohm", Array::Constant(1, source.output_ohm));
  answer.csv.add("uncertainty_ohm", Array::Constant(1, known ? source.uncertainty_ohm : NAN));
  write_single(source, command, answer);
  return answer;
}

Answer source_curve_answer(const std::vector<SourceReadings>& readings,
                           const SourceAccuracy& accuracy, const SourceCommand& command) {
  const SourceCurve curve = source_impedance(readings, accuracy);
  const bool known = command.known();
  Answer answer;
  std::vector<std::vector<std::string>> rows{{"frequency", "output", "uncertainty"}};
  for (Eigen::Index i = 0; i < curve.frequency_hz.size(); ++i)
    rows.push_back({hz_text(curve.frequency_hz[i]), ohm_text(curve.output_ohm[i]),
                    known ? significant(curve.uncertainty_ohm[i], 2) + " ohm" : "not known"});
  answer.text = aligned(rows);
  answer.warnings = curve.warnings;
  answer.json = {{"output_ohm", json_array(curve.output_ohm)},
                 {"uncertainty_ohm", known ? json_array(curve.uncertainty_ohm) : Json(nullptr)},
                 {"frequency_hz", json_array(curve.frequency_hz)},
                 {"better_load_ohm", known ? json_number(curve.better_load_ohm) : Json(nullptr)}};
  answer.csv.add("frequency_hz", curve.frequency_hz);
  answer.csv.add("output_ohm", curve.output_ohm);
  if (known) answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm);
  write_curve(curve, command, answer);
  return answer;
}

Answer source_answer(const SourceCommand& command) {
  std::vector<std::string> warnings;
  const auto readings = read_source_readings(command.file, warnings);
  SourceAccuracy accuracy = command.accuracy;
  command.meter.put_into(accuracy);
  accuracy.load_percent = command.load_percent.value_or(0);
  const bool single = readings.size() == 1 && readings[0].frequency_hz == 0;
  Answer answer = single ? single_source(readings[0], accuracy, command)
                         : source_curve_answer(readings, accuracy, command);
  answer.warnings.insert(answer.warnings.begin(), warnings.begin(), warnings.end());
  const std::string remark = remark_on_errors(command);
  if (!remark.empty() && !(single && !command.known())) answer.warnings.push_back(remark);
  return answer;
}

}  // namespace

void add_readings(Command& acquire, Session& session) {
  auto o = std::make_shared<ReadingsCommand>();
  Command& command =
      *acquire.add_subcommand("readings", "Meter readings over frequency into an impedance curve");
  command.footer(
      acquire_caution_footer() +
      "Columns: frequency_hz, volt_load and one of ampere, volt_reference, volt_both. Names "
      "such as \"U load\" and \"I\" are read too, in V or mV, A or mA, Hz or kHz.\n"
      "Example:  ohmtilt acquire readings impedance-curves/bench/readings.csv --reference 22 "
      "--meter-percent 0.5 --write mine.csv");
  command.add_option("readings", o->file, "table of readings")->required();
  add_reference_option(command, o->reference_ohm, "; not needed with ampere");
  add_reference_tolerance_option(command, o->reference_tolerance_percent);
  add_meter_options(command, o->meter, o->accuracy.correlated);
  add_label_options(command, o->labels);
  command.add_option("--write", o->write, "write the curve to this file")->type_name("FILE");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire readings", [&] { return readings_answer(*o); });
  });
}

void add_source(Command& acquire, Session& session) {
  auto o = std::make_shared<SourceCommand>();
  Command& command =
      *acquire.add_subcommand("source", "Voltages at two loads into an output impedance");
  command.footer(
      acquire_caution_footer() +
      "Columns: load_ohm (or open) and volt, with frequency_hz first where it was swept.\n"
      "Example:  ohmtilt acquire source impedance-curves/bench/loads.csv --meter-percent 0.5 "
      "--load-percent 1 "
      "--correlated --write amplifier.chain.toml");
  command.add_option("readings", o->file, "table of readings")->required();
  add_meter_options(command, o->meter, o->accuracy.correlated);
  command.add_number("--load-percent", o->load_percent,
                     {.unit = "PERCENT", .least = 0, .otherwise = "taken as exact"},
                     "tolerance of each load, %");
  add_label_options(command, o->labels);
  command
      .add_option("--write", o->write,
                  "write the source: a chain file (.toml), or where it was swept a curve (.csv)")
      ->type_name("FILE");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire source", [&] { return source_answer(*o); });
  });
}

}  // namespace ohmtilt::cli
