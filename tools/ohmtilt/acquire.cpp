// ohmtilt acquire: a sound card and a resistor, or a meter, into an impedance curve.
#include <fmt/format.h>

#include <ohmtilt/base/error.h>
#include <ohmtilt/base/text.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/measure/read_meter.h>
#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/source_impedance.h>
#include <ohmtilt/measure/stimulus.h>
#include <tools/ohmtilt/command.h>
#include <tools/ohmtilt/wording.h>
#include <cmath>
#include <map>
#include <memory>

namespace ohmtilt::cli {
namespace {

const std::map<std::string, Wiring> wirings{{"load", Wiring::load},
                                            {"reference", Wiring::reference}};
const std::map<std::string, StimulusKind> kinds{{"sweep", StimulusKind::sweep},
                                                {"multitone", StimulusKind::multitone},
                                                {"noise", StimulusKind::noise}};

/// "load|reference".
template <class Value>
std::string alternatives(const std::map<std::string, Value>& choices) {
  std::string text;
  for (const auto& [word, unused] : choices) text += (text.empty() ? "" : "|") + word;
  return text;
}

/// Adds an option for one of several words; CLI11's own map would print numbers in the help.
template <class Value>
void add_choice(CLI::App& command, const std::string& flag, Value& value,
                const std::map<std::string, Value>& choices, const std::string& help) {
  command
      .add_option_function<std::string>(
          flag,
          [&value, &choices, flag](const std::string& text) {
            const auto found = choices.find(text);
            std::vector<std::string> words;
            for (const auto& [word, unused] : choices) words.push_back(word);
            if (found == choices.end())
              throw InputError(flag + " \"" + printable(text) + "\" is not known",
                               "give " + listed(words));
            value = found->second;
          },
          help)
      ->type_name(alternatives(choices));
}

void add_band_option(CLI::App& command, Band& band) {
  command
      .add_option_function<std::string>(
          "--band", [&band](const std::string& text) { band = parse_band(text, "--band"); },
          "frequency range in Hz, LO-HI [20-20000]")
      ->type_name("LO-HI");
}

// ---- acquire stimulus --------------------------------------------------------------------------

struct StimulusCommand {
  StimulusOptions stimulus;
  std::string file;
  Wiring wiring = Wiring::load;
  OutputOptions output;
};

const char* const cautions =
    "Take the earphones off the ears before anything plays, start at the lowest level and raise "
    "it\n"
    "slowly. Never connect an output that carries a bias voltage, nor a bridged output whose "
    "return is\n"
    "not ground, to a sound card's inputs.\n";

std::string wiring_text(Wiring wiring) {
  if (wiring == Wiring::load)
    return "Wiring, second channel across the earphone:\n\n"
           "  output o---+---[ reference ]---+---[ earphone ]---+---o ground\n"
           "             |                   |                  |\n"
           "          input 1             input 2          input ground\n\n";
  return "Wiring, second channel across the reference:\n\n"
         "  output o---+---[ earphone ]---+---[ reference ]---+---o ground\n"
         "             |                  |                   |\n"
         "          input 1            input 2           input ground\n\n";
}

std::string kind_name(StimulusKind kind) {
  for (const auto& [name, value] : kinds)
    if (value == kind) return name;
  return {};
}

Answer stimulus_answer(const StimulusCommand& command) {
  const StimulusOptions& o = command.stimulus;
  const WavContent content = stimulus(o);
  const double seconds = static_cast<double>(content.samples.size()) / o.rate_hz;
  Answer answer;
  answer.text = fmt::format(
      "{}: {} from {} to {}, {} s with its silence, {} dB of full scale, {} samples a second",
      printable(command.file), kind_name(o.kind), hz_text(o.band.low_hz), hz_text(o.band.high_hz),
      number_text(std::round(seconds * 100) / 100), number_text(o.level_dbfs),
      number_text(o.rate_hz));
  if (o.kind != StimulusKind::sweep) answer.text += fmt::format(", seed {}", o.seed);
  answer.text += "\n\n" + wiring_text(command.wiring) + cautions;
  answer.json = {{"kind", kind_name(o.kind)},
                 {"sample_rate_hz", o.rate_hz},
                 {"seconds", seconds},
                 {"level_dbfs", o.level_dbfs},
                 {"band_hz", Json::array({o.band.low_hz, o.band.high_hz})},
                 {"seed", o.kind == StimulusKind::sweep ? Json(nullptr) : Json(o.seed)}};
  answer.documents.push_back({command.file, wav_bytes(content)});
  return answer;
}

void add_stimulus(CLI::App& acquire, Session& session) {
  auto options = std::make_shared<StimulusCommand>();
  CLI::App& command =
      *acquire.add_subcommand("stimulus", "Write the sound to play, and how to wire it");
  command.footer("Example:  ohmtilt acquire stimulus --seconds 10 --write sweep.wav");
  command.add_option("--write", options->file, "the WAV file to write")
      ->required()
      ->type_name("FILE");
  add_choice(command, "--kind", options->stimulus.kind, kinds, "sweep, multitone or noise [sweep]");
  command.add_option("--sample-rate", options->stimulus.rate_hz, "samples a second, Hz [48000]");
  command.add_option("--seconds", options->stimulus.seconds, "length of the sound, s [10]");
  command.add_option("--level-dbfs", options->stimulus.level_dbfs,
                     "highest peak, dB of full scale [-30]");
  command.add_option("--seed", options->stimulus.seed, "seed of multitone and noise [1]");
  add_band_option(command, options->stimulus.band);
  add_choice(command, "--wiring", options->wiring, wirings,
             "what the second channel sees: load or reference [load]");
  add_output_options(command, options->output, false);
  command.callback([options, &session] {
    respond(session, options->output, "acquire stimulus",
            [&] { return stimulus_answer(*options); });
  });
}

// ---- acquire impedance -------------------------------------------------------------------------

struct ImpedanceCommand {
  AcquireFiles files;
  std::string recording;
  std::optional<std::string> stimulus, same, open, short_, known, write;
  AcquireOptions how;
  std::optional<double> known_ohm, input_ohm;
  OutputOptions output;
};

std::string curve_table(const ImpedanceCurve& curve) {
  std::vector<std::vector<std::string>> rows{{"frequency", "|Z|", "phase", "uncertainty"}};
  const Eigen::Index step = std::max<Eigen::Index>(1, curve.points() / 20);
  for (Eigen::Index i = 0; i < curve.points(); i += step)
    rows.push_back({hz_text(curve.frequency_hz()[i]), ohm_text(curve.magnitude_ohm()[i]),
                    curve.has_phase() ? fmt::format("{:.1f} deg", curve.phase_deg()[i]) : "-",
                    ohm_text(curve.uncertainty_ohm()[i])});
  return aligned(rows);
}

std::string curve_summary(const ImpedanceCurve& curve) {
  return fmt::format("{} frequencies from {} to {}; {} to {}\n\n", curve.points(),
                     hz_text(curve.range().low_hz), hz_text(curve.range().high_hz),
                     ohm_text(curve.magnitude_ohm().minCoeff()),
                     ohm_text(curve.magnitude_ohm().maxCoeff()));
}

Json findings_json(const std::vector<Finding>& findings) {
  Json json = Json::array();
  for (const Finding& finding : findings)
    json.push_back({{"kind", finding.kind}, {"text", valid_utf8(finding.text)}});
  return json;
}

AcquireFiles files_of(const ImpedanceCommand& command) {
  const auto path = [](const std::optional<std::string>& text) {
    return text ? std::optional<std::filesystem::path>(*text) : std::nullopt;
  };
  return {command.recording,  path(command.stimulus), path(command.same),
          path(command.open), path(command.short_),   path(command.known)};
}

Answer impedance_answer(const ImpedanceCommand& command) {
  AcquireOptions how = command.how;
  if (command.known.has_value() != command.known_ohm.has_value())
    throw InputError("--calibrate-known and --known-ohm go together", "give both or neither");
  how.known_ohm = command.known_ohm.value_or(0);
  if (command.input_ohm) how.impedance.input_ohm = *command.input_ohm;
  const Acquired acquired = acquire_impedance(files_of(command), how);
  const ImpedanceCurve& curve = acquired.curve;
  const ComplexArray z = curve.impedance_ohm();
  Answer answer;
  answer.text = curve_summary(curve) + curve_table(curve) + "\n";
  for (const auto& note : acquired.removed) answer.text += note + "\n";
  for (const Finding& finding : acquired.findings) answer.warnings.push_back(finding.text);
  answer.json = {{"frequency_hz", json_array(curve.frequency_hz())},
                 {"real_ohm", json_array(z.real())},
                 {"imag_ohm", json_array(z.imag())},
                 {"uncertainty_ohm", json_array(curve.uncertainty_ohm())},
                 {"coherence", json_array(acquired.coherence)},
                 {"findings", findings_json(acquired.findings)},
                 {"removed", acquired.removed}};
  answer.csv.add("frequency_hz", curve.frequency_hz());
  answer.csv.add("real_ohm", z.real());
  answer.csv.add("imag_ohm", z.imag());
  answer.csv.add("uncertainty_ohm", curve.uncertainty_ohm());
  answer.csv.add("coherence", acquired.coherence);
  if (command.write) answer.documents.push_back({*command.write, curve_text(curve)});
  return answer;
}

void add_impedance(CLI::App& acquire, Session& session) {
  auto o = std::make_shared<ImpedanceCommand>();
  CLI::App& command =
      *acquire.add_subcommand("impedance", "A two-channel recording into an impedance curve");
  command.footer(
      "With --stimulus a sweep is undone; without it, noise or music is averaged. Record the same "
      "signal on both channels too and give it as --calibrate-same: most of a sound card's error "
      "goes.\n"
      "Example:  ohmtilt acquire impedance impedance-curves/bench/recording.wav --reference 22 "
      "--band 50-10000 --write mine.csv");
  command.add_option("recording", o->recording, "WAV, channel 1 across reference plus earphone")
      ->required();
  command.add_option("--reference", o->how.impedance.reference_ohm, "reference resistor, ohm")
      ->required();
  command.add_option("--reference-tolerance-percent", o->how.impedance.reference_tolerance_percent,
                     "its tolerance, % [0]");
  add_choice(command, "--wiring", o->how.impedance.wiring, wirings,
             "channel 2 across the load or the reference [load]");
  command.add_option("--stimulus", o->stimulus, "the sweep that was played; without it, averaging")
      ->type_name("FILE");
  command.add_option("--calibrate-same", o->same, "recording, both channels on one signal")
      ->type_name("FILE");
  command.add_option("--calibrate-open", o->open, "recording, nothing connected")
      ->type_name("FILE");
  command.add_option("--calibrate-short", o->short_, "recording, a short for the earphone")
      ->type_name("FILE");
  command.add_option("--calibrate-known", o->known, "recording, a known resistor for the earphone")
      ->type_name("FILE");
  command.add_option("--known-ohm", o->known_ohm, "that resistor, ohm");
  command.add_option("--known-tolerance-percent", o->how.known_tolerance_percent,
                     "its tolerance, % [0]");
  command.add_option("--input-ohm", o->input_ohm, "input resistance of channel 2, ohm [none]");
  command.add_option("--per-octave", o->how.transfer.per_octave,
                     "points an octave, and the smoothing [48]");
  add_band_option(command, o->how.transfer.band);
  command.add_option("--write", o->write, "write the curve to this file")->type_name("FILE");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire impedance", [&] { return impedance_answer(*o); });
  });
}

// ---- acquire readings --------------------------------------------------------------------------

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
  command.add_option("--meter-percent", o->accuracy.meter_percent,
                     "the meter's limit of error, % of reading [0]");
  command.add_option("--meter-counts-volt", o->accuracy.meter_counts_volt,
                     "and in volt, whatever the reading [0]");
  command.add_flag("--correlated", o->accuracy.correlated,
                   "one meter, one range: its percentage is a common error");
  command.add_option("--write", o->write, "write the curve to this file")->type_name("FILE");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire readings", [&] { return readings_answer(*o); });
  });
}

// ---- acquire source ----------------------------------------------------------------------------

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
  command.add_option("--meter-percent", o->accuracy.meter_percent,
                     "the meter's limit of error, % of reading [0]");
  command.add_option("--meter-counts-volt", o->accuracy.meter_counts_volt,
                     "and in volt, whatever the reading [0]");
  command.add_option("--load-percent", o->accuracy.load_percent, "tolerance of each load, % [0]");
  command.add_flag("--correlated", o->accuracy.correlated,
                   "one meter, one range: its percentage is a common error");
  add_output_options(command, o->output, false);
  command.callback([o, &session] {
    respond(session, o->output, "acquire source", [&] { return source_answer(*o); });
  });
}

}  // namespace

void add_acquire(CLI::App& program, Session& session) {
  CLI::App& command = *program.add_subcommand("acquire",
                                              "A sound card and a resistor, or a meter, into a "
                                              "curve: stimulus, impedance, readings, source");
  command.footer(
      "In this order: stimulus writes a sound and says how to wire; record it; impedance makes the "
      "curve. Each explains itself: ohmtilt acquire stimulus --help");
  command.require_subcommand(1);
  add_stimulus(command, session);
  add_impedance(command, session);
  add_readings(command, session);
  add_source(command, session);
}

}  // namespace ohmtilt::cli
