// ohmtilt solve: what a circuit is at its ports.
#include <fmt/format.h>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/sampled_two_port.h>
#include <ohmtilt/circuit/sensitivity.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/circuit/value_changes.h>
#include <ohmtilt/circuit/varied_values.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/hearing/weighting.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <plots/figures/schematic.h>
#include <plots/figures/solve_figure.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/parts_list.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <tools/ohmtilt/program/written_network.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

/// Corners are worked out unasked beside the draws for at most this many axes
/// (1024 corners).
constexpr std::size_t most_corner_values = 10;
constexpr std::size_t listed_sensitivities = 8;

struct SolveCommand {
  std::string file;
  std::string port;
  std::optional<std::string> drive;
  GridOptions grid;
  double kelvin = room_kelvin;
  ToleranceFlags tolerance;
  bool sensitivity = false;
  std::optional<std::string> write, parts;
  std::optional<std::string> pair;
  OutputOptions output;
};

/// What is solved: a circuit, or a chain as one.
struct Solvable {
  Circuit circuit;
  std::optional<Chain> chain;
  std::vector<std::string> warnings;
};

/// Everything that is found out.
struct Solved {
  std::string title;
  std::string port;
  std::optional<std::string> drive;  ///< nothing: the circuit's own sources act
  Array hz;
  ComplexArray impedance_ohm;
  std::vector<PortVolt> transfer;
  ThermalNoise noise;
  double noise_volt = 0, a_weighted_noise_volt = 0;  ///< rms over the band
  std::vector<SensitivityPeak> sensitivity;
  std::vector<PortChange> changes;  ///< of --sensitivity
  std::optional<CircuitTolerance> tolerance;
  std::optional<CircuitWorstCase> worst_case;
  std::size_t varied_values = 0;
  ToleranceOptions draws;
  std::vector<std::string> warnings;
};

// ---- working it out ----------------------------------------------------------------------------

bool is_curve(const std::string& file) {
  try {
    read_impedance(file);
    return true;
  } catch (const InputError&) {  // read_circuit() says what it is, or that it is not there
    return false;
  }
}

Solvable read_solvable(const std::string& file) {
  if (!is_toml_name(file) && is_curve(file))
    throw InputError(printable(file) + " is a curve, which has no parts to solve",
                     "ask `ohmtilt inspect` about it, or `ohmtilt model` for a circuit behind it");
  const TomlTable table = read_toml(file);
  if (is_toml_name(file) && content_of(table) == TomlContent::chain) {
    auto read = read_chain(table);
    return {Circuit(chain_circuit(read.value)), read.value, std::move(read.warnings)};
  }
  auto read = read_circuit(table);
  return {std::move(read.value), std::nullopt, std::move(read.warnings)};
}

bool has_sources(const Circuit& circuit) {
  return std::any_of(circuit.parts().begin(), circuit.parts().end(),
                     [](const Part& part) { return is_independent_source(part.kind); });
}

/// The port that --drive names; nothing for "none", and for a chain unless one is named.
std::optional<std::string> driven_port(const SolveCommand& options, const Solvable& subject) {
  if (!options.drive && !subject.chain) return subject.circuit.port().name;
  if (options.drive && *options.drive != "none") return subject.circuit.port(*options.drive).name;
  if (!has_sources(subject.circuit))
    throw InputError("nothing drives the circuit: it has no source of its own",
                     "leave out --drive none, or name a port");
  return std::nullopt;
}

std::vector<PortVolt> transfers_of(const Circuit& circuit, const Solved& solved) {
  if (!solved.drive) return own_port_volts(circuit, solved.hz);
  if (circuit.ports().size() < 2) return {};
  return transfers(circuit, solved.hz, *solved.drive);
}

void find_sensitivities(const Circuit& circuit, Solved& solved) {
  if ((solved.impedance_ohm == 0.0).any()) {
    solved.warnings.push_back("the port is shorted in the circuit: no sensitivities");
    return;
  }
  solved.sensitivity =
      sensitivity_peaks(impedance_sensitivities(circuit, solved.hz, solved.port), solved.hz);
}

std::vector<std::string> followed_ports(const Solved& solved) {
  std::vector<std::string> names;
  for (const auto& one : solved.transfer) names.push_back(one.port);
  return names;
}

void find_changes(const Circuit& circuit, Solved& solved) {
  solved.changes = port_changes(circuit, solved.hz, solved.port, solved.drive.value_or(""),
                                followed_ports(solved));
  if (solved.changes.empty())
    throw InputError("--sensitivity: no part has a value that could change",
                     "leave it out for a circuit of measured curves");
}

void find_tolerances(const Circuit& circuit, const ToleranceOptions& options, bool worst_case,
                     Solved& solved) {
  const CircuitQuestion question{solved.port, solved.drive};
  solved.draws = options;
  solved.tolerance = circuit_tolerance(circuit, solved.hz, question, options);
  DrawAxes axes;
  varied_circuit(circuit, axes);
  solved.varied_values = axes.axes().size();
  if (worst_case || solved.varied_values <= most_corner_values)
    solved.worst_case = circuit_worst_case(circuit, solved.hz, question, options);
}

/// "notch" for "folder/notch.circuit.toml": the title of a circuit that has none.
std::string stem_of(const std::string& file) {
  return one_line(std::filesystem::path(file).stem().stem().string());
}

Solved solve(const SolveCommand& options, const Solvable& subject, const Session& session) {
  const Circuit& circuit = subject.circuit;
  Solved solved;
  solved.warnings = subject.warnings;
  solved.title = circuit.title().empty() ? stem_of(options.file) : circuit.title();
  solved.port = circuit.port(options.port).name;
  solved.drive = driven_port(options, subject);
  const Band band = known_band(circuit, options.grid.band);
  if (band.low_hz > options.grid.band.low_hz || band.high_hz < options.grid.band.high_hz)
    solved.warnings.push_back("the data reach from " + number_text(band.low_hz) + " to " +
                              number_text(band.high_hz) + " Hz; nothing is said outside");
  solved.hz = log_grid(band, options.grid.points);
  solved.impedance_ohm = driving_point(circuit, solved.hz, solved.port);
  solved.transfer = transfers_of(circuit, solved);
  solved.noise = thermal_noise(circuit, solved.hz, solved.port, options.kelvin);
  solved.noise_volt = noise_volt(solved.hz, solved.noise.volt_per_root_hz);
  solved.a_weighted_noise_volt = a_weighted_noise_volt(solved.hz, solved.noise.volt_per_root_hz);
  solved.warnings.insert(solved.warnings.end(), solved.noise.warnings.begin(),
                         solved.noise.warnings.end());
  find_sensitivities(circuit, solved);
  if (options.sensitivity) find_changes(circuit, solved);
  if (options.tolerance.asked)
    find_tolerances(circuit, with_progress(options.tolerance, session),
                    options.tolerance.worst_case, solved);
  return solved;
}

Array magnitude_db(const ComplexArray& volt) { return db_from_amplitude(Array(volt.abs())); }
Array phase_deg(const ComplexArray& values) { return values.arg() / degree; }

// ---- JSON and CSV ------------------------------------------------------------------------------

Json tolerance_json(const Solved& solved) {
  const CircuitTolerance& found = *solved.tolerance;
  Json json{{"samples", solved.draws.samples},
            {"seed", solved.draws.seed},
            {"p05_ohm", json_array(found.impedance_ohm.p05)},
            {"p50_ohm", json_array(found.impedance_ohm.p50)},
            {"p95_ohm", json_array(found.impedance_ohm.p95)},
            {"all_corners", nullptr},
            {"inside_further", nullptr},
            {"lowest_ohm", nullptr},
            {"highest_ohm", nullptr},
            {"transfer", Json::object()}};
  if (solved.worst_case) {
    json["all_corners"] = solved.worst_case->reach.all_corners;
    json["inside_further"] = solved.worst_case->reach.inside_further;
    json["lowest_ohm"] = json_array(solved.worst_case->impedance_ohm.lowest);
    json["highest_ohm"] = json_array(solved.worst_case->impedance_ohm.highest);
  }
  for (std::size_t i = 0; i < found.transfer.size(); ++i) {
    const auto& one = found.transfer[i];
    Json& of = json["transfer"][valid_utf8(one.port)];
    of = {{"p05_db", json_array(one.db.p05)},
          {"p50_db", json_array(one.db.p50)},
          {"p95_db", json_array(one.db.p95)},
          {"lowest_db", nullptr},
          {"highest_db", nullptr}};
    if (!solved.worst_case) continue;
    of["lowest_db"] = json_array(solved.worst_case->transfer[i].db.lowest);
    of["highest_db"] = json_array(solved.worst_case->transfer[i].db.highest);
  }
  return json;
}

Json changes_json(const Solved& solved) {
  Json all = Json::array();
  for (const auto& one : solved.changes) {
    Json transfer = Json::object();
    for (std::size_t i = 0; i < one.transfer_db.size(); ++i)
      transfer[valid_utf8(solved.transfer[i].port)] = json_array(one.transfer_db[i]);
    all.push_back({{"part", valid_utf8(one.changed.part)},
                   {"quantity", one.changed.quantity},
                   {"percent", one.changed.percent},
                   {"impedance_peak_percent", one.impedance_peak_percent},
                   {"peak_hz", one.peak_hz},
                   {"impedance_percent", json_array(one.impedance_percent)},
                   {"transfer_db", transfer}});
  }
  return all;
}

Json solved_json(const Solved& solved, double kelvin) {
  Json json{{"title", valid_utf8(solved.title)},
            {"port", valid_utf8(solved.port)},
            {"drive", solved.drive ? Json(valid_utf8(*solved.drive)) : Json(nullptr)},
            {"temperature_kelvin", kelvin},
            {"frequency_hz", json_array(solved.hz)},
            {"impedance_real_ohm", json_array(solved.impedance_ohm.real())},
            {"impedance_imag_ohm", json_array(solved.impedance_ohm.imag())},
            {"transfer", Json::object()},
            {"noise_volt_per_root_hz", json_array(solved.noise.volt_per_root_hz)},
            {"noise_volt", solved.noise_volt},
            {"noise_a_weighted_volt", solved.a_weighted_noise_volt},
            {"sensitivity", Json::array()}};
  for (const auto& one : solved.transfer)
    json["transfer"][valid_utf8(one.port)] = {{"magnitude_db", json_array(magnitude_db(one.volt))},
                                              {"phase_deg", json_array(phase_deg(one.volt))}};
  for (const auto& one : solved.sensitivity)
    json["sensitivity"].push_back({{"part", valid_utf8(one.part)},
                                   {"quantity", one.quantity},
                                   {"peak", json_number(one.peak)},
                                   {"hz", one.hz}});
  if (!solved.changes.empty()) json["changes"] = changes_json(solved);
  if (solved.tolerance) json["tolerance"] = tolerance_json(solved);
  return json;
}

void add_tolerance_columns(const Solved& solved, CsvTable& table) {
  const CircuitTolerance& found = *solved.tolerance;
  table.add("p05_ohm", found.impedance_ohm.p05);
  table.add("p50_ohm", found.impedance_ohm.p50);
  table.add("p95_ohm", found.impedance_ohm.p95);
  for (const auto& one : found.transfer) {
    table.add("p05_db_" + one.port, one.db.p05);
    table.add("p50_db_" + one.port, one.db.p50);
    table.add("p95_db_" + one.port, one.db.p95);
  }
  if (!solved.worst_case) return;
  table.add("lowest_ohm", solved.worst_case->impedance_ohm.lowest);
  table.add("highest_ohm", solved.worst_case->impedance_ohm.highest);
  for (const auto& one : solved.worst_case->transfer) {
    table.add("lowest_db_" + one.port, one.db.lowest);
    table.add("highest_db_" + one.port, one.db.highest);
  }
}

CsvTable solved_csv(const Solved& solved) {
  CsvTable table;
  table.add("frequency_hz", solved.hz);
  table.add("impedance_real_ohm", solved.impedance_ohm.real());
  table.add("impedance_imag_ohm", solved.impedance_ohm.imag());
  for (std::size_t i = 0; i < solved.transfer.size(); ++i) {
    const std::string of = "_" + solved.transfer[i].port;
    table.add("magnitude_db" + of, magnitude_db(solved.transfer[i].volt));
    table.add("phase_deg" + of, phase_deg(solved.transfer[i].volt));
  }
  table.add("noise_volt_per_root_hz", solved.noise.volt_per_root_hz);
  if (solved.tolerance) add_tolerance_columns(solved, table);
  for (const auto& one : solved.changes) {
    const std::string of = "_" + one.changed.part + "." + one.changed.quantity;
    table.add("impedance_percent" + of, one.impedance_percent);
    for (std::size_t i = 0; i < one.transfer_db.size(); ++i)
      table.add("transfer_db_" + solved.transfer[i].port + of, one.transfer_db[i]);
  }
  return table;
}

// ---- text --------------------------------------------------------------------------------------

struct ValueAt {
  double value, hz;
};
ValueAt smallest(const Array& values, const Array& hz) {
  Eigen::Index at = 0;
  const double value = values.minCoeff(&at);
  return {value, hz[at]};
}
ValueAt largest(const Array& values, const Array& hz) {
  Eigen::Index at = 0;
  const double value = values.maxCoeff(&at);
  return {value, hz[at]};
}

/// "12.3 nV", "1.23 uV".
std::string noise_volt_text(double volt) {
  if (volt < 1e-6) return significant(1e9 * volt) + " nV";
  return volt < 1e-3 ? significant(1e6 * volt) + " uV" : significant(1e3 * volt) + " mV";
}

void add_impedance_rows(const Solved& solved, Rows& rows) {
  const Array ohm = solved.impedance_ohm.abs(), deg = phase_deg(solved.impedance_ohm);
  const ValueAt least = smallest(ohm, solved.hz), most = largest(ohm, solved.hz);
  rows.push_back({"lowest |Z|", ohm_text(least.value), "at " + hz_text(least.hz)});
  rows.push_back({"highest |Z|", ohm_text(most.value), "at " + hz_text(most.hz)});
  const ValueAt back = smallest(deg, solved.hz), ahead = largest(deg, solved.hz);
  rows.push_back(
      {"lowest phase of Z", fmt::format("{:.1f} deg", back.value), "at " + hz_text(back.hz)});
  rows.push_back(
      {"highest phase of Z", fmt::format("{:.1f} deg", ahead.value), "at " + hz_text(ahead.hz)});
  const Array nanovolt = solved.noise.volt_per_root_hz * 1e9;
  const ValueAt loud = largest(nanovolt, solved.hz);
  rows.push_back({"thermal noise, highest density", fmt::format("{:.3g} nV/sqrt(Hz)", loud.value),
                  "at " + hz_text(loud.hz)});
  rows.push_back({"thermal noise, A-weighted, over the band",
                  noise_volt_text(solved.a_weighted_noise_volt),
                  "(" + noise_volt_text(solved.noise_volt) + " flat)"});
}

std::string transfer_text(const Solved& solved) {
  if (solved.transfer.empty()) return "";
  Rows rows{{"port", "lowest", "", "highest", ""}};
  for (const auto& one : solved.transfer) {
    const Array db = magnitude_db(one.volt);
    const ValueAt least = smallest(db, solved.hz), most = largest(db, solved.hz);
    rows.push_back({printable(one.port, 30), signed_db(least.value), hz_text(least.hz),
                    signed_db(most.value), hz_text(most.hz)});
  }
  const std::string by = solved.drive ? "with 1 V at port " + printable(*solved.drive, 30)
                                      : std::string("from the circuit's own sources, re 1 V");
  return fmt::format("\nOpen voltage of the ports {}:\n", by) + aligned(rows);
}

/// "R1, ohm"; "... (for 1 % less)" where more is not physical.
std::string changed_text(const ChangedValue& changed) {
  return printable(changed.part, 40) + ", " + changed.quantity +
         (changed.percent < 0 ? " (1 % less)" : "");
}

/// The largest change of a port's voltage where it can be told.
std::string largest_db_text(const Array& db) {
  const Array known = db.isFinite().select(db, 0);
  Eigen::Index at = 0;
  known.abs().maxCoeff(&at);
  return fmt::format("{:+.3f} dB", known[at]);
}

std::string changes_text(const Solved& solved) {
  Rows rows{{"1 % more of", "change of |Z|", ""}};
  for (const auto& one : solved.transfer) rows[0].push_back("port " + printable(one.port, 20));
  for (const auto& one : solved.changes) {
    rows.push_back({changed_text(one.changed), fmt::format("{:+.2f} %", one.impedance_peak_percent),
                    "at " + hz_text(one.peak_hz)});
    for (const auto& db : one.transfer_db) rows.back().push_back(largest_db_text(db));
  }
  return "\nWhat matters: the largest change over frequency, each value by itself\n" +
         aligned(rows);
}

std::string sensitivity_text(const Solved& solved) {
  if (!solved.changes.empty()) return changes_text(solved);
  if (solved.sensitivity.empty()) return "";
  Rows rows;
  for (const auto& one : solved.sensitivity) {
    if (rows.size() == listed_sensitivities) break;
    rows.push_back({printable(one.part, 40) + ", " + one.quantity,
                    fmt::format("{:+.2f} %", one.peak), "at " + hz_text(one.hz)});
  }
  return "\nWhat matters most: change of |Z| for 1 % more of (by the derivative; --sensitivity has "
         "the "
         "change)\n" +
         aligned(rows);
}

/// "-0.90 % to +0.91 %": the widest over frequency.
std::string relative_band(const Array& low, const Array& high, const Array& nominal) {
  return fmt::format("{:+.2f} % to {:+.2f} %", 100 * (low / nominal - 1).minCoeff(),
                     100 * (high / nominal - 1).maxCoeff());
}

/// "out by -0.11 dB to +0.12 dB": the widest over frequency.
std::string port_band(const PortExtremes& extremes, const Array& nominal_db) {
  return fmt::format("{} by {} to {}", printable(extremes.port, 30),
                     signed_db((extremes.db.lowest - nominal_db).minCoeff()),
                     signed_db((extremes.db.highest - nominal_db).maxCoeff()));
}

std::string corners_text(const Solved& solved, const Array& nominal) {
  if (!solved.worst_case)
    return fmt::format("Worst corners of {} values are left out; --worst-case adds them.\n",
                       solved.varied_values);
  const CircuitWorstCase& worst = *solved.worst_case;
  std::vector<std::string> ports;
  for (std::size_t i = 0; i < worst.transfer.size(); ++i)
    ports.push_back(port_band(worst.transfer[i], magnitude_db(solved.transfer[i].volt)));
  return fmt::format(
      "At worst |Z| moves by {}{}{}; {}.\n",
      relative_band(worst.impedance_ohm.lowest, worst.impedance_ohm.highest, nominal),
      ports.empty() ? "" : ", the voltage of ", ports.empty() ? "" : listed(ports),
      reach_text(worst.reach));
}

std::string tolerance_text(const Solved& solved) {
  if (!solved.tolerance) return "";
  const Array nominal = solved.impedance_ohm.abs();
  const Percentiles& band = solved.tolerance->impedance_ohm;
  std::string text =
      fmt::format("\nTolerances move |Z| by {} (5 % and 95 % of the draws, where it is most).\n",
                  relative_band(band.p05, band.p95, nominal));
  return text + corners_text(solved, nominal) + "Drawn from: " + draws_text(solved.draws) + ".\n";
}

std::string solved_text(const Solved& solved) {
  Rows rows;
  add_impedance_rows(solved, rows);
  return fmt::format("{}: port {}, {} to {}\n\n", printable(solved.title),
                     printable(solved.port, 30), hz_text(solved.hz[0]),
                     hz_text(solved.hz[solved.hz.size() - 1])) +
         aligned(rows) + transfer_text(solved) + sensitivity_text(solved) + tolerance_text(solved);
}

// ---- figure ------------------------------------------------------------------------------------

plots::SolveFigure solved_figure(const Solved& solved) {
  plots::SolveFigure figure;
  const Array ohm = solved.impedance_ohm.abs();
  const ValueAt least = smallest(ohm, solved.hz), most = largest(ohm, solved.hz);
  figure.conclusion = fmt::format("{} at {}, {} at {}", ohm_text(least.value), hz_text(least.hz),
                                  ohm_text(most.value), hz_text(most.hz));
  figure.circuit_title = solved.title;
  figure.caption = "Impedance at port " + solved.port;
  figure.frequency_hz = solved.hz;
  figure.magnitude_ohm = ohm;
  figure.phase_deg = unwrapped_deg(phase_deg(solved.impedance_ohm));
  for (const auto& one : solved.transfer)
    figure.transfers.push_back({one.port, magnitude_db(one.volt), {}, {}});
  if (!solved.transfer.empty())
    figure.transfer_heading = solved.drive ? "Open voltage re port " + *solved.drive + ", dB"
                                           : std::string("Open voltage, dB re 1 V");
  for (std::size_t i = 0; i < std::min(drawn_changes, solved.changes.size()); ++i)
    figure.changes.push_back({short_name(changed_text(solved.changes[i].changed), 28),
                              solved.changes[i].impedance_percent});
  if (!solved.tolerance) return figure;
  figure.caption += "; tolerances: " + draws_text(solved.draws);
  figure.band_lower_ohm = solved.tolerance->impedance_ohm.p05;
  figure.band_upper_ohm = solved.tolerance->impedance_ohm.p95;
  for (std::size_t i = 0; i < figure.transfers.size(); ++i) {
    figure.transfers[i].band_lower_db = solved.tolerance->transfer[i].db.p05;
    figure.transfers[i].band_upper_db = solved.tolerance->transfer[i].db.p95;
  }
  return figure;
}

// ---- files -------------------------------------------------------------------------------------

void check_written(const SolveCommand& options) {
  if (options.pair && !(options.write && is_two_port_name(*options.write)))
    throw InputError("--pair names the ports of a two-port file, and none is written",
                     "add --write NAME.s2p");
  if (!options.write || is_two_port_name(*options.write) || is_curve_name(*options.write)) return;
  throw InputError("--write \"" + printable(*options.write) + "\" names no kind of file here",
                   "end it in .csv or .s1p for the impedance, in .s2p for a pair of ports");
}

/// The two ports of --pair, or those that speak for themselves.
std::pair<std::string, std::string> chosen_pair(const SolveCommand& options,
                                                const Circuit& circuit) {
  if (options.pair) {
    const auto comma = options.pair->find(',');
    if (comma == std::string::npos)
      throw InputError("--pair " + printable(*options.pair) + " names one port",
                       "name two: --pair in,out");
    return {circuit.port(trimmed(options.pair->substr(0, comma))).name,
            circuit.port(trimmed(options.pair->substr(comma + 1))).name};
  }
  std::vector<std::string> names;
  for (const auto& port : circuit.ports()) names.push_back(port.name);
  const auto has = [&](const char* name) {
    return std::find(names.begin(), names.end(), name) != names.end();
  };
  if (has("amplifier") && has("earphone")) return {"amplifier", "earphone"};
  if (has("in") && has("out")) return {"in", "out"};
  if (names.size() == 2) return {names[0], names[1]};
  throw InputError("a two-port file takes two ports, and this circuit has " + listed(names),
                   "name them: --pair in,out, port 1 first");
}

void write_two_port(const SolveCommand& options, const Solvable& subject, const Solved& solved,
                    Answer& result) {
  const Circuit circuit = subject.chain ? stages_between(*subject.chain) : subject.circuit;
  const auto [in, out] = chosen_pair(options, circuit);
  const Band band{solved.hz[0], solved.hz[solved.hz.size() - 1]};
  const TwoPortData data = sampled_two_port(circuit, in, out, band, solved.hz.size());
  result.documents.emplace_back(*options.write, two_port_text(data));
  if (subject.chain) append_new(result.warnings, lost_in_two_port(*subject.chain));
}

void write_impedance(const SolveCommand& options, const Solved& solved, Answer& result) {
  const ImpedanceCurve curve({solved.title, "port " + solved.port, "computed", ""}, solved.hz,
                             solved.impedance_ohm.abs(), phase_deg(solved.impedance_ohm));
  result.documents.emplace_back(*options.write, written_curve(curve, *options.write));
}

void write_file(const SolveCommand& options, const Solvable& subject, const Solved& solved,
                Answer& result) {
  if (!options.write) return;
  if (is_two_port_name(*options.write)) return write_two_port(options, subject, solved, result);
  write_impedance(options, solved, result);
}

// ---- the command -------------------------------------------------------------------------------

Answer answer(const SolveCommand& options, const Session& session) {
  check_written(options);
  const Solvable subject = read_solvable(options.file);
  if (!options.output.schematic.empty() && !subject.chain)
    throw InputError("only a chain has a schematic that can be drawn",
                     "name a chain file, or leave out --draw");
  const auto solved = std::make_shared<const Solved>(solve(options, subject, session));
  Answer result;
  result.text = solved_text(*solved);
  result.json = solved_json(*solved, options.kelvin);
  if (subject.chain)
    if (const auto bias = bias_note(thevenin_source(*subject.chain)))
      result.cautions.push_back(*bias);
  result.warnings = solved->warnings;
  result.csv = solved_csv(*solved);
  write_file(options, subject, *solved, result);
  if (options.parts)
    result.documents.emplace_back(
        *options.parts,
        parts_csv(listed_parts(subject.chain ? stages_between(*subject.chain) : subject.circuit)));
  result.draw = [solved](const plots::Output& output) {
    plots::draw(solved_figure(*solved), output);
  };
  result.draw_schematic = [chain = subject.chain](const plots::Output& output) {
    plots::draw(plots::schematic(*chain), output);
  };
  return result;
}

}  // namespace

void add_solve(Command& program, Session& session) {
  auto options = std::make_shared<SolveCommand>();
  Command& command = *program.add_subcommand(
      "solve", "Impedance, transfer and noise of a circuit at its ports, and which parts matter");
  command.footer(
      "Example:  ohmtilt solve impedance-curves/two-way-armature.circuit.toml --plot circuit.svg\n"
      "A chain file may stand for a circuit: its port \"earphone\" is what an earphone sees.");
  command.add_option("circuit", options->file, "circuit or chain file")->required();
  command
      .add_option("--port", options->port,
                  "the port where impedance and noise are taken [the first one]")
      ->type_name("PORT");
  command
      .add_option("--drive", options->drive,
                  "the port with 1 V on it, for the transfer to the others; none: the circuit's "
                  "own sources act, in dB re 1 V [the first one; none for a chain]")
      ->type_name("PORT");
  add_grid_options(command, options->grid);
  command.add_number("--temperature-kelvin", options->kelvin,
                     {.unit = "K", .least = 0, .most = 10000},
                     "temperature of the thermal noise in kelvin");
  command.add_flag("--sensitivity", options->sensitivity,
                   "what 1 % more of each value changes of |Z| and of the ports' voltages, over "
                   "frequency");
  add_tolerance_options(command, options->tolerance);
  add_worst_case_option(command, options->tolerance);
  command
      .add_option("--write", options->write,
                  "write the impedance as a curve (.csv, .s1p), or a pair of ports as a two-port "
                  "(.s2p); of a chain its stages without the amplifier")
      ->type_name("FILE");
  command
      .add_option(
          "--pair", options->pair,
          "the two ports of a .s2p file, port 1 first [in,out; amplifier,earphone; the only "
          "two]")
      ->type_name("PORT,PORT");
  add_parts_option(command, options->parts);
  add_output_options(command, options->output);
  add_schematic_option(command, options->output, "of a chain file");
  command.callback([options, &session] {
    respond(session, options->output, "solve", [&] { return answer(*options, session); });
  });
}

}  // namespace ohmtilt::cli
