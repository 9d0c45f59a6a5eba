// ohmtilt acquire readings and acquire source: a meter's readings into a curve, or into an output
// impedance.
#include <fmt/format.h>

#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/source_impedance.h>
#include <tools/ohmtilt/acquire.h>
#include <tools/ohmtilt/wording.h>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

/// What a meter's data sheet says, for either kind of accuracy.
template <class Accuracy>
void add_meter_options(CLI::App& command, Accuracy& accuracy) {
  command.add_option("--meter-percent", accuracy.meter_percent,
                     "the meter's limit of error, % of reading [0]");
  command.add_option("--meter-counts-volt", accuracy.meter_counts_volt,
                     "and in volt, whatever the reading [0]");
  command.add_flag("--correlated", accuracy.correlated,
                   "one meter, one range: its percentage is a common error");
}

struct ReadingsCommand {
  std::string file;
  double reference_ohm = 0;
  ReadingAccuracy accuracy;
  std::optional<std::string> write;
  OutputOptions output;
};

Answer readings_answer(const ReadingsCommand& command) {
  Answer answer;
  const MeterReadings readings = read_meter_readings(command.file, answer.warnings);
  const ReadImpedance read =
      impedance_of_readings(readings, command.reference_ohm, command.accuracy);
  const ImpedanceCurve& curve = read.curve;
  answer.warnings.insert(answer.warnings.end(), read.warnings.begin(), read.warnings.end());
  answer.text = to_string(read.method) + "\n" + curve_summary(curve) + curve_table(curve);
  answer.json = {{"frequency_hz", json_array(curve.frequency_hz())},
                 {"magnitude_ohm", json_array(curve.magnitude_ohm())},
                 {"phase_deg", curve.has_phase() ? json_array(curve.phase_deg()) : Json(nullptr)},
                 {"uncertainty_ohm", json_array(curve.uncertainty_ohm())},
                 {"method", to_string(read.method)}};
  answer.csv.add("frequency_hz", curve.frequency_hz());
  answer.csv.add("magnitude_ohm", curve.magnitude_ohm());
  if (curve.has_phase()) answer.csv.add("phase_deg", curve.phase_deg());
  answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm());
  if (command.write) answer.documents.push_back({*command.write, curve_text(curve)});
  return answer;
}

struct SourceCommand {
  std::string file;
  SourceAccuracy accuracy;
  OutputOptions output;
};

Answer single_source(const SourceImpedance& source) {
  Answer answer;
  answer.text =
      fmt::format("output impedance {} +- {} (two standard uncertainties); open-circuit {} V\n",
                  ohm_text(source.output_ohm), ohm_text(2 * source.uncertainty_ohm),
                  number_text(std::round(source.open_volt * 1e6) / 1e6));
  answer.warnings = source.warnings;
  answer.json = {{"output_ohm", source.output_ohm},
                 {"uncertainty_ohm", source.uncertainty_ohm},
                 {"frequency_hz", nullptr},
                 {"better_load_ohm", json_number(source.better_load_ohm)}};
  answer.csv.add("output_ohm", Array::Constant(1, source.output_ohm));
  answer.csv.add("uncertainty_ohm", Array::Constant(1, source.uncertainty_ohm));
  return answer;
}

Answer source_curve_answer(const SourceCurve& curve) {
  Answer answer;
  std::vector<std::vector<std::string>> rows{{"frequency", "output", "uncertainty"}};
  for (Eigen::Index i = 0; i < curve.frequency_hz.size(); ++i)
    rows.push_back({hz_text(curve.frequency_hz[i]), ohm_text(curve.output_ohm[i]),
                    ohm_text(curve.uncertainty_ohm[i])});
  answer.text = aligned(rows);
  answer.warnings = curve.warnings;
  answer.json = {{"output_ohm", json_array(curve.output_ohm)},
                 {"uncertainty_ohm", json_array(curve.uncertainty_ohm)},
                 {"frequency_hz", json_array(curve.frequency_hz)},
                 {"better_load_ohm", json_number(curve.better_load_ohm)}};
  answer.csv.add("frequency_hz", curve.frequency_hz);
  answer.csv.add("output_ohm", curve.output_ohm);
  answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm);
  return answer;
}

Answer source_answer(const SourceCommand& command) {
  std::vector<std::string> warnings;
  const auto readings = read_source_readings(command.file, warnings);
  const bool single = readings.size() == 1 && readings[0].frequency_hz == 0;
  Answer answer = single ? single_source(source_impedance(readings[0].readings, command.accuracy))
                         : source_curve_answer(source_impedance(readings, command.accuracy));
  answer.warnings.insert(answer.warnings.begin(), warnings.begin(), warnings.end());
  return answer;
}

}  // namespace

void add_readings(CLI::App& acquire, Session& session) {
  auto o = std::make_shared<ReadingsCommand>();
  CLI::App& command =
      *acquire.add_subcommand("readings", "Meter readings over frequency into an impedance curve");
  command.footer(
      "Columns: frequency_hz, volt_load and one of ampere, volt_reference, volt_both.\n"
      "Example:  ohmtilt acquire readings impedance-curves/bench/readings.csv --reference 22 "
      "--meter-percent 0.5 --write mine.csv");
  command.add_option("readings", o->file, "table of readings")->required();
  command.add_option("--reference", o->reference_ohm,
                     "reference resistor, ohm; not needed with ampere");
  command.add_option("--reference-tolerance-percent", o->accuracy.reference_tolerance_percent,
                     "its tolerance, % [0]");
  add_meter_options(command, o->accuracy);
  command.add_option("--write", o->write, "write the curve to this file")->type_name("FILE");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire readings", [&] { return readings_answer(*o); });
  });
}

void add_source(CLI::App& acquire, Session& session) {
  auto o = std::make_shared<SourceCommand>();
  CLI::App& command =
      *acquire.add_subcommand("source", "Voltages at two loads into an output impedance");
  command.footer(
      "Columns: load_ohm (inf: open) and volt, with frequency_hz first where it was swept.\n"
      "Example:  ohmtilt acquire source impedance-curves/bench/loads.csv --meter-percent 0.5 "
      "--load-percent 1 "
      "--correlated");
  command.add_option("readings", o->file, "table of readings")->required();
  add_meter_options(command, o->accuracy);
  command.add_option("--load-percent", o->accuracy.load_percent, "tolerance of each load, % [0]");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire source", [&] { return source_answer(*o); });
  });
}

}  // namespace ohmtilt::cli
