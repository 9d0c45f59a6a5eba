// ohmtilt inspect: what an impedance curve is, and what it is worth.
#include <fmt/format.h>

#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/minimum_phase.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/curve_figure.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/curve_input.h>
#include <tools/ohmtilt/program/wording.h>
#include <tools/ohmtilt/program/written_network.h>
#include <cmath>
#include <map>
#include <memory>

namespace ohmtilt::cli {
namespace {

constexpr int most_elements = 50;
constexpr std::size_t most_marks_a_finding = 20;
constexpr Eigen::Index smooth_points = 480;
constexpr Eigen::Index most_points = 5000;  // more are thinned out: the tests gain nothing by them
constexpr std::size_t most_layout_bytes = 1000;
constexpr double few_an_octave = 12;  // below, corners and scatter are of the sampling

struct InspectCommand {
  std::string file;
  std::optional<std::string> write;
  InspectionOptions inspection;
  std::optional<int> elements;  // of the causal fit
  OutputOptions output;
};

// ---- the answer as JSON ------------------------------------------------------------------------

Json place_json(const ImpedanceAt& place) { return {{"ohm", place.ohm}, {"hz", place.hz}}; }

Json causality_json(const std::optional<Causality>& causality) {
  if (!causality) return nullptr;
  return {{"elements", causality->elements},
          {"mu", json_number(causality->mu)},
          {"mu_elements", causality->mu_elements},
          {"largest_residual_percent", json_number(causality->largest_residual_percent)},
          {"verdict", to_string(causality->verdict)}};
}

Json findings_json(const std::vector<Finding>& findings) {
  Json list = Json::array();
  for (const Finding& finding : findings)
    list.push_back({{"kind", finding.kind},
                    {"what", finding.what},
                    {"where_hz", finding.where_hz},
                    {"remedy", finding.remedy}});
  return list;
}

Json inspection_json(const ImpedanceCurve& curve, const CurveInspection& seen,
                     Eigen::Index points) {
  Json json{{"points", points},
            {"range_hz", {curve.range().low_hz, curve.range().high_hz}},
            {"phase", phase_word(curve)},
            {"dc_ohm", seen.dc_ohm},
            {"min", place_json(seen.lowest)},
            {"max", place_json(seen.highest)},
            {"rated_ohm", seen.rated_ohm},
            {"resonances", Json::array()},
            {"passive", seen.passive},
            {"kramers_kronig", causality_json(seen.causality)},
            {"findings", findings_json(seen.findings)},
            {"whole_95_db", json_number(seen.whole_95_db)},
            {"hidden_q", json_number(seen.hidden_q)}};
  for (const ImpedanceAt& resonance : seen.resonances)
    json["resonances"].push_back({{"hz", resonance.hz}, {"ohm", resonance.ohm}});
  if (seen.rated_conforms) json["rated_conforms"] = *seen.rated_conforms;
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

std::string headline_text(const CurveInput& input, const CurveInspection& seen,
                          Eigen::Index points) {
  const std::string looked_at =
      points == input.curve.points() ? "" : fmt::format("{} of its ", input.curve.points());
  const Band range = input.curve.range();
  std::string text = fmt::format(
      "{}: {}{} points, {} to {}, {:.3g} an octave, {}\n", printable(input.curve.notes().title),
      looked_at, points, hz_text(range.low_hz), hz_text(range.high_hz), seen.points_an_octave,
      input.curve.has_phase() ? "with phase" : "without phase");
  if (!input.layout.empty()) text += printable(input.layout, most_layout_bytes) + "\n";
  return text + notes_text(input.curve.notes()) + "\n\n";
}

void add_magnitude(const std::string& what, const std::optional<double>& ohm, Rows& rows) {
  rows.push_back({what, ohm ? ohm_text(*ohm) : "outside the data"});
}

std::string figures_text(const CurveInspection& seen) {
  Rows rows;
  add_magnitude("|Z| at 20 Hz", seen.at_20_hz_ohm, rows);
  add_magnitude("|Z| at 1 kHz", seen.at_1_khz_ohm, rows);
  add_magnitude("|Z| at 20 kHz", seen.at_20_khz_ohm, rows);
  rows.push_back({"lowest |Z|", ohm_text(seen.lowest.ohm), "at " + hz_text(seen.lowest.hz)});
  rows.push_back({"highest |Z|", ohm_text(seen.highest.ohm), "at " + hz_text(seen.highest.hz)});
  for (const ImpedanceAt& resonance : seen.resonances)
    rows.push_back({"resonance", ohm_text(resonance.ohm), "at " + hz_text(resonance.hz)});
  rows.push_back({"direct-current resistance, estimated", ohm_text(seen.dc_ohm)});
  rows.push_back(
      {"largest rated impedance that conforms", significant_down(seen.rated_ohm, 3) + " ohm"});
  if (seen.noise_percent > 0)
    rows.push_back({seen.points_an_octave < few_an_octave
                        ? "|Z| between points so far apart, not known to"
                        : "noise of |Z|, one standard deviation",
                    percent_text(seen.noise_percent)});
  return aligned(rows);
}

std::string rated_text(const CurveInspection& seen, const std::optional<double>& rated_ohm) {
  if (!rated_ohm) return "Rated impedance: |Z| must nowhere be below 80 % of it (IEC 60268-7).\n";
  return fmt::format(
      "A rated impedance of {} {}: the lowest |Z| is {:.3g} % of it, and must be at "
      "least 80 % (IEC 60268-7).\n",
      ohm_text(*rated_ohm), *seen.rated_conforms ? "conforms" : "does not conform",
      100 * seen.lowest.ohm / *rated_ohm);
}

/// A finding in the words of a title.
std::string in_words(const std::string& kind) {
  static const std::map<std::string, std::string> words{
      {"not-passive", "negative resistance"},
      {"outlier", "stray points"},
      {"step", "a jump"},
      {"sparse", "too few points"},
      {"quantised", "coarse values"},
      {"noisy", "noise"},
      {"phase-sign", "phase of the wrong sign"},
      {"phase-radians", "phase in radians"},
      {"kilohertz", "frequencies in kilohertz"},
      {"kilohm", "values in kilohm"},
      {"not-causal", "magnitude and phase that do not belong together"},
      {"looks-like-response", "a response, it seems"},
      {"band-missing", "ends of the band missing"},
      {"magnitude-only", "no phase"}};
  const auto found = words.find(kind);
  return found == words.end() ? kind : found->second;
}

/// One sentence that sums up what follows.
std::string summary_text(const CurveInspection& seen) {
  std::vector<std::string> faults;
  for (const Finding& finding : seen.findings) faults.push_back(in_words(finding.kind));
  const std::string uncertainty =
      fmt::format("the deviation at 6 ohm is known to {} (95 %)", plus_minus_db(seen.whole_95_db));
  if (faults.empty()) return "\nNo fault found; " + uncertainty + ".\n";
  return fmt::format("\nFound: {}; {}.\n", listed(faults),
                     seen.usable ? uncertainty : "no result from it can be trusted");
}

std::string findings_text(const CurveInspection& seen) {
  std::string text;
  for (const Finding& finding : seen.findings)
    text += fmt::format("  {}: {};\n      {}.\n", finding.kind, finding.what, finding.remedy);
  return text;
}

std::string causality_text(const CurveInspection& seen) {
  if (!seen.causality)
    return "\nCausality (Kramers-Kronig) was not tested: that takes a phase, 8 points and an "
           "octave.\n";
  const Causality& found = *seen.causality;
  return fmt::format(
      "\nCausality (Kramers-Kronig): {}. A causal fit with {} poles leaves {} of |Z| rms, {} at\n"
      "most; the phase is within {:.2g} degrees rms of the minimum phase of |Z|; mu of the linear "
      "test\nwith {} elements {:.2f}.\n",
      to_string(found.verdict), found.elements, percent_text(found.rms_residual_percent),
      percent_text(found.largest_residual_percent), found.phase_difference_rms_deg,
      found.mu_elements, found.mu);
}

std::string verdict_text(const CurveInspection& seen, const ImpedanceCurve& curve) {
  return fmt::format(
      "\nUncertainty from the curve (95 %, the whole deviation at 6 ohm): {}.\n({} not in "
      "that.)\n{}"
      "  reviewer: {}\n  designer: {}\n  owner: {}\n",
      plus_minus_db(seen.whole_95_db),
      curve.has_uncertainty() || curve.notes().scale_uncertainty_percent > 0
          ? "The uncertainty that the file states is in that; another specimen and another seal are"
          : "The instrument's own error, another specimen and another seal are",
      hidden_text(seen.hidden_q), seen.for_reviewer, seen.for_designer, seen.for_owner);
}

std::string inspection_text(const CurveInput& input, const CurveInspection& seen,
                            const std::optional<double>& rated_ohm, Eigen::Index points) {
  return headline_text(input, seen, points) + figures_text(seen) + rated_text(seen, rated_ohm) +
         summary_text(seen) + findings_text(seen) + causality_text(seen) +
         verdict_text(seen, input.curve);
}

// ---- files and figure --------------------------------------------------------------------------

CsvTable inspection_csv(const ImpedanceCurve& curve, const CurveInspection& seen) {
  CsvTable table;
  table.add("frequency_hz", curve.frequency_hz());
  table.add("magnitude_ohm", curve.magnitude_ohm());
  if (curve.has_phase()) table.add("phase_deg", curve.phase_deg());
  if (!seen.causality) return table;
  table.add("residual_real_percent", 100 * seen.causality->residual.real());
  table.add("residual_imag_percent", 100 * seen.causality->residual.imag());
  table.add("phase_difference_deg", seen.causality->phase_difference_deg);
  return table;
}

/// Where findings are marked on the curve. A missing end of the band is seen without a mark.
std::vector<plots::MarkedPlace> marked(const LogInterpolator& ln_z,
                                       const std::vector<Finding>& findings) {
  std::vector<plots::MarkedPlace> places;
  for (const Finding& finding : findings) {
    if (finding.kind == "band-missing") continue;
    for (std::size_t i = 0; i < std::min(finding.where_hz.size(), most_marks_a_finding); ++i) {
      const double hz = finding.where_hz[i];
      places.push_back({hz, std::exp(ln_z.at(hz)), in_words(finding.kind)});
    }
  }
  return places;
}

std::string conclusion_text(const CurveInspection& seen) {
  std::vector<std::string> faults;
  for (const Finding& finding : seen.findings) faults.push_back(in_words(finding.kind));
  return fmt::format("{}; {} at 6 ohm (95 %)",
                     faults.empty() ? "No fault found" : "Found: " + listed(faults),
                     plus_minus_db(seen.whole_95_db));
}

std::optional<Array> minimum_phase_of(const ImpedanceCurve& curve, const CurveInspection& seen) {
  if (seen.causality)
    return Array(unwrapped_deg(curve.phase_deg()) - seen.causality->phase_difference_deg);
  const Band range = curve.range();
  if (curve.has_phase() || range.high_hz < 2 * range.low_hz) return {};
  return minimum_phase(curve).phase_deg;
}

plots::CurveFigure inspection_figure(const CurveInput& input, const CurveInspection& seen) {
  const ImpedanceCurve& curve = input.curve;
  plots::CurveFigure figure;
  figure.conclusion = conclusion_text(seen);
  figure.curve_title = curve.notes().title;
  figure.caption = notes_text(curve.notes());
  figure.frequency_hz = curve.frequency_hz();
  figure.magnitude_ohm = curve.magnitude_ohm();
  if (curve.has_phase()) figure.phase_deg = unwrapped_deg(curve.phase_deg());
  if (const auto phase = minimum_phase_of(curve, seen)) {
    figure.compared.label = "minimum phase";
    figure.compared.phase_deg = *phase;
  }
  const LogInterpolator ln_z(curve.frequency_hz(), curve.magnitude_ohm().log());
  if (seen.points_an_octave < few_an_octave) {
    figure.smooth_hz = log_grid(curve.range(), smooth_points);
    figure.smooth_ohm = ln_z.at(figure.smooth_hz).exp();
  }
  for (const ImpedanceAt& at : seen.resonances)  // on the line that is drawn
    figure.resonances.push_back({at.hz, std::exp(ln_z.at(at.hz)), hz_text(at.hz)});
  figure.findings = marked(ln_z, seen.findings);
  if (seen.causality) {
    figure.residuals.push_back({"real part", 100 * seen.causality->residual.real()});
    figure.residuals.push_back({"imaginary part", 100 * seen.causality->residual.imag()});
  }
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

void check_written_name(const std::string& file) {
  if (is_curve_name(file)) return;
  throw InputError("--write \"" + printable(file) + "\" names no kind of curve file",
                   "end it in .csv or .s1p");
}

/// Thins a long curve out, and says so.
void thin_out(CurveInput& input) {
  const Eigen::Index points = input.curve.points();
  if (points <= most_points) return;
  const Eigen::Index step = (points + most_points - 1) / most_points;
  input.curve = input.curve.every(step);
  input.warnings.push_back(fmt::format("of its {} points every {}th was looked at", points, step));
}

Answer answer(const InspectCommand& options) {
  if (options.write) check_written_name(*options.write);
  CurveInput read = read_curve_input(options.file);
  const Eigen::Index points = read.curve.points();
  std::string written;
  if (options.write) written = written_curve(read.curve, *options.write);
  thin_out(read);
  const auto input = std::make_shared<const CurveInput>(std::move(read));
  InspectionOptions inspection = options.inspection;
  inspection.causality.elements = options.elements.value_or(0);
  inspection.findings.ohm_is_stated = input->ohm_is_stated;
  if (!inspection.rated_ohm) inspection.rated_ohm = input->rated_ohm;
  const auto seen = std::make_shared<const CurveInspection>(inspect(input->curve, inspection));
  Answer result;
  result.text = inspection_text(*input, *seen, inspection.rated_ohm, points);
  result.json = inspection_json(input->curve, *seen, points);
  result.warnings = input->warnings;
  result.csv = inspection_csv(input->curve, *seen);
  result.draw = [input, seen](const plots::Output& output) {
    plots::draw(inspection_figure(*input, *seen), output);
  };
  if (options.write) result.documents.emplace_back(*options.write, std::move(written));
  return result;
}

// ---- the flags ---------------------------------------------------------------------------------

void add_causality_options(Command& command, InspectCommand& given) {
  CausalityOptions& options = given.inspection.causality;
  command.add_choice<ImpedancePart>("--kk-part", options.part,
                                    {{"complex", ImpedancePart::complex},
                                     {"real", ImpedancePart::real},
                                     {"imaginary", ImpedancePart::imaginary}},
                                    "what the Kramers-Kronig test fits, to predict the rest");
  command.add_number("--kk-limit", options.limit,
                     {.unit = "MU", .least = 0, .most = 1, .inside = true},
                     "mu at which the linear test stops adding elements");
  command.add_number("--kk-elements", given.elements,
                     {.unit = "M",
                      .least = 1,
                      .most = most_elements,
                      .whole = true,
                      .otherwise = "as many as the data need"},
                     "poles of the causal fit");
}

}  // namespace

void add_inspect(Command& program, Session& session) {
  auto options = std::make_shared<InspectCommand>();
  Command& command = *program.add_subcommand(
      "inspect", "Check an impedance curve: range, resonances, errors, uncertainty");
  command.footer(
      "Example:  ohmtilt inspect impedance-curves/two-way-armature.csv --plot curve.svg\n"
      "It converts too: give any curve, and --write CURVE.csv or CURVE.s1p.\n"
      "The uncertainty (95 %) is the one that `deviation` states for 6 ohm in place of 0. Of more "
      "than 5000 points a part is looked at.");
  command.add_option("file", options->file, "curve file, or an earphone file that names one")
      ->required();
  command.add_number(
      "--rated", options->inspection.rated_ohm,
      {.unit = "OHM", .least = 0, .inside = true, .otherwise = "the earphone file's own"},
      "a rated impedance to check, in ohm");
  add_causality_options(command, *options);
  command
      .add_option("--write", options->write,
                  "write the curve as a table (.csv) or as a Touchstone one-port (.s1p)")
      ->type_name("FILE");
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "inspect", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
