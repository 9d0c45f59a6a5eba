// ohmtilt model: the passive circuit that an impedance curve is the impedance of.
#include <fmt/format.h>

#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/model/driver_parameters.h>
#include <ohmtilt/model/passive_fit.h>
#include <ohmtilt/model/rational_circuit.h>
#include <ohmtilt/model/rational_fit.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/curve_figure.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/curve_input.h>
#include <tools/ohmtilt/program/wording.h>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

enum class Method { circuit, foster, rational };

struct ModelCommand {
  std::string file;
  Method method = Method::circuit;
  std::optional<int> order;
  std::optional<std::string> write;
  OutputOptions output;
};

/// A natural mode while a current source drives the earphone.
struct PolePlace {
  double hz = 0, q = 0;
};

/// A model of either kind, and how well it fits.
struct Modelled {
  int order = 0;
  std::string order_words, why;
  double rms_error_percent = 0, largest_error_percent = 0, largest_error_hz = 0;
  double phase_error_deg = 0;
  ComplexArray impedance_ohm;  ///< at the curve's frequencies
  std::vector<Part> parts;     ///< none of a rational model
  std::optional<Circuit> written;
  std::vector<PolePlace> poles;
  DriverReading driver;
  std::optional<DriverParameters> recipe;
  std::vector<std::string> warnings;
};

// ---- fitting -----------------------------------------------------------------------------------

std::vector<PolePlace> places(const RationalModel& model, bool with_real) {
  std::vector<PolePlace> list;
  for (const Complex& pole : poles(model)) {
    if (pole.imag() < 0 || (pole.imag() == 0 && !with_real)) continue;
    const Mode found = mode(pole);
    list.push_back({found.hz, found.q});
  }
  return list;
}

/// The errors that both kinds of fit state.
template <class Fit>
void state_errors(const Fit& fit, Modelled& made) {
  made.order = fit.order;
  made.rms_error_percent = fit.rms_error_percent;
  made.largest_error_percent = fit.largest_error_percent;
  made.largest_error_hz = fit.largest_error_hz;
  made.phase_error_deg = fit.phase_error_deg;
}

std::string title_of(const ImpedanceCurve& curve) { return one_line(curve.notes().title); }

/// What a circuit that does not follow the data falls short by, and what a rational model reaches.
std::string shortfall(const ImpedanceCurve& curve, const PassiveFit& fit) {
  const std::string text =
      fmt::format("the fitted circuit is {} rms off, more than the noise of the data ({})",
                  percent_text(fit.rms_error_percent), percent_text(fit.noise_percent));
  const double rational = fit_rational_model(curve).rms_error_percent;
  if (rational < 0.7 * fit.rms_error_percent)
    return text + fmt::format("; --method rational reaches {} and can be written, too",
                              percent_text(rational));
  return text + fmt::format("; a rational model is no better ({})", percent_text(rational));
}

/// The f1-f2 method, as far as it has read the circuit's resonance.
std::optional<DriverParameters> recipe_for(const ImpedanceCurve& curve,
                                           const DriverParameters& driver) {
  const auto recipe = driver_by_recipe(curve);
  if (!recipe || std::abs(recipe->resonance_hz / driver.resonance_hz - 1) > 0.1) return {};
  return recipe;
}

Modelled model_by_circuit(const ImpedanceCurve& curve, const ModelCommand& options) {
  PassiveFitOptions how;
  if (options.order) how.largest_order = *options.order;
  if (options.method == Method::foster) how.most_branches = 1;
  const PassiveFit fit = fit_passive_model(curve, how);
  Modelled made;
  state_errors(fit, made);
  made.order_words = fmt::format("{} values, {} resonance{}", fit.order, fit.resonances,
                                 fit.resonances == 1 ? "" : "s");
  made.why = fit.why();
  made.impedance_ohm = evaluate(fit.model, curve.frequency_hz());
  made.parts = parts(fit.model);
  made.written = circuit_of(fit.model, title_of(curve) + ", fitted circuit");
  // The real poles stand for lossy inductances, which have none of their own.
  made.poles = places(rational_form(fit.model, curve.range()).model, false);
  made.driver = read_driver(fit, curve);
  if (made.driver.driver) made.recipe = recipe_for(curve, *made.driver.driver);
  if (fit.falls_short() && !options.order && options.method == Method::circuit)
    made.warnings.push_back(shortfall(curve, fit));
  return made;
}

Modelled model_by_rational(const ImpedanceCurve& curve, const ModelCommand& options) {
  RationalFitOptions how;
  how.order = options.order.value_or(0);
  const RationalFit fit = fit_rational_model(curve, how);
  Modelled made;
  state_errors(fit, made);
  made.order_words = fmt::format("{} poles", fit.order);
  const bool enforced = fit.passivity == RationalFit::Passivity::enforced;
  made.why = enforced ? fmt::format("it was made passive, by changes up to {}",
                                    ohm_text(fit.enforced_change_ohm))
                      : "it is passive as fitted";
  if (enforced) made.warnings.push_back("the rational model was not passive; " + made.why);
  made.impedance_ohm = evaluate(fit.model, curve.frequency_hz());
  made.poles = places(fit.model, true);
  made.written = circuit_of(
      fit.model, title_of(curve) + ", rational model of controlled sources (not to be built)");
  if (options.write)
    made.warnings.push_back(
        "the file holds controlled sources that have the model's impedance between tip and sleeve; "
        "nothing else in it means anything, and its thermal noise is not the earphone's");
  made.driver.why = "a rational model has no parts to read them from";
  return made;
}

Modelled model(const ImpedanceCurve& curve, const ModelCommand& options) {
  return options.method == Method::rational ? model_by_rational(curve, options)
                                            : model_by_circuit(curve, options);
}

/// Model over measured impedance less one: the real part is the error of |Z|, the imaginary part
/// that of the phase in radians.
ComplexArray relative_error(const ImpedanceCurve& curve, const Modelled& made) {
  if (curve.has_phase()) return made.impedance_ohm / curve.impedance_ohm() - 1.0;
  return (made.impedance_ohm.abs() / curve.magnitude_ohm() - 1).cast<Complex>();
}

// ---- the answer as JSON ------------------------------------------------------------------------

Json part_json(const Part& part) {
  Json json{{"name", part.name}, {"kind", kind_name(part.kind)}};
  for (const PartValue& value : part.values)
    if (value.key != "series_ohm") json[value.key] = value.value;
  return json;
}

Json parameters_json(const DriverParameters& p) {
  return {{"dc_ohm", p.dc_ohm},
          {"resonance_hz", p.resonance_hz},
          {"q_mechanical", p.q_mechanical},
          {"q_electrical", p.q_electrical},
          {"q_total", p.q_total},
          {"peak_ohm", p.peak_ohm},
          {"motional_farad", p.motional_farad},
          {"motional_henry", p.motional_henry},
          {"motional_ohm", p.motional_ohm}};
}

Json driver_json(const Modelled& made) {
  if (!made.driver.driver) return nullptr;
  Json json = parameters_json(*made.driver.driver);
  json["f1_f2"] = nullptr;
  if (!made.recipe) return json;
  json["f1_f2"] = parameters_json(*made.recipe);
  json["f1_f2"]["lower_hz"] = made.recipe->lower_hz;
  json["f1_f2"]["upper_hz"] = made.recipe->upper_hz;
  return json;
}

Json model_json(const Modelled& made) {
  Json json{{"order", made.order},
            {"rms_error_percent", made.rms_error_percent},
            {"largest_error_percent", made.largest_error_percent},
            {"parts", Json::array()},
            {"poles", Json::array()},
            {"driver", driver_json(made)}};
  for (const Part& part : made.parts) json["parts"].push_back(part_json(part));
  for (const PolePlace& pole : made.poles)
    json["poles"].push_back({{"hz", pole.hz}, {"q", json_number(pole.q)}});
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

/// "1.24 mH": with the prefix that leaves one to three digits before the point.
std::string prefixed(double value, const std::string& unit) {
  constexpr const char* prefixes[] = {"p", "n", "u", "m", "", "k", "M"};
  int at = 4;
  while (at > 0 && std::abs(value) < 1) value *= 1000, --at;
  while (at < 6 && std::abs(value) >= 1000) value /= 1000, ++at;
  return fmt::format("{:.4g} {}{}", value, prefixes[at], unit);
}

/// Four digits without an exponent, however small.
std::string plain_decimal(double value) {
  const double decimals = value > 0 ? std::max(0.0, 3 - std::floor(std::log10(value))) : 0;
  return fmt::format("{:.{}f}", value, static_cast<int>(std::min(decimals, 30.0)));
}

std::string value_text(const Part& part) {
  if (part.kind == PartKind::lossy_inductor)
    return plain_decimal(part.value("k")) + fmt::format(" (j w)^{:.4g} ohm", part.value("n"));
  if (part.has("ohm")) return prefixed(part.value("ohm"), "ohm");
  if (part.has("henry")) return prefixed(part.value("henry"), "H");
  return prefixed(part.value("farad"), "F");
}

std::string parts_text(const Modelled& made) {
  if (made.parts.empty()) return "";
  Rows rows;
  for (const Part& part : made.parts)
    rows.push_back({part.name + "  " + std::string(kind_name(part.kind)),
                    part.nodes[0] + " to " + part.nodes[1], value_text(part)});
  return "\nParts, all positive and so passive, from the node tip to the node sleeve:\n" +
         aligned(rows);
}

std::string poles_text(const Modelled& made) {
  if (made.poles.empty()) return "";
  Rows rows;
  for (const PolePlace& pole : made.poles)
    rows.push_back({"pole", hz_text(pole.hz), fmt::format("Q {:.3g}", pole.q)});
  return "\nPoles of the impedance:\n" + aligned(rows);
}

std::string driver_text(const Modelled& made) {
  if (!made.driver.driver) return "\nNo driver parameters: " + made.driver.why + ".\n";
  const DriverParameters& p = *made.driver.driver;
  Rows rows{{"", "circuit", "f1-f2 method"}};
  const auto add = [&](const std::string& what, auto value) {
    rows.push_back({what, value(p), made.recipe ? value(*made.recipe) : "none"});
  };
  using D = DriverParameters;
  add("Re, resistance", [](const D& d) { return significant(d.dc_ohm, 4) + " ohm"; });
  add("fs, resonance", [](const D& d) {
    return d.resonance_hz < 1000 ? significant(d.resonance_hz, 4) + " Hz"
                                 : significant(d.resonance_hz / 1000, 4) + " kHz";
  });
  add("Zmax, peak", [](const D& d) { return significant(d.peak_ohm, 4) + " ohm"; });
  add("Qms", [](const D& d) { return fmt::format("{:.4g}", d.q_mechanical); });
  add("Qes", [](const D& d) { return fmt::format("{:.4g}", d.q_electrical); });
  add("Qts", [](const D& d) { return fmt::format("{:.4g}", d.q_total); });
  add("Cmes", [](const D& d) { return prefixed(d.motional_farad, "F"); });
  add("Lces", [](const D& d) { return prefixed(d.motional_henry, "H"); });
  add("Res", [](const D& d) { return significant(d.motional_ohm, 4) + " ohm"; });
  std::string text = "\nSmall-signal driver parameters: " + made.driver.why + ".\n" + aligned(rows);
  if (!made.recipe)
    return text +
           "The f1-f2 method (Small 1972) gives nothing here: no peak of this resonance "
           "stands clear of\nnoise and other drivers.\n";
  return text + fmt::format(
                    "The f1-f2 method (Small 1972) includes the coil's inductance and all other "
                    "drivers: here that\nchanges its Qes by {:+.2g} %.\n",
                    100 * (made.recipe->q_electrical / p.q_electrical - 1));
}

std::string fit_text(const ImpedanceCurve& curve, const Modelled& made) {
  const std::string degrees = made.phase_error_deg < 0.001
                                  ? "less than 0.001"
                                  : fmt::format("{:.2g}", made.phase_error_deg);
  return fmt::format(
      "{}: {} points, fitted with {} ({})\nIt follows {} within {} rms, {} at most (at {}); the "
      "{}phase within {} degrees rms.\n",
      printable(curve.notes().title), curve.points(), made.order_words, made.why,
      curve.has_phase() ? "Z" : "|Z|", percent_text(made.rms_error_percent),
      percent_text(made.largest_error_percent), hz_text(made.largest_error_hz),
      curve.has_phase() ? "" : "computed minimum ", degrees);
}

std::string modelled_text(const ImpedanceCurve& curve, const Modelled& made) {
  return fit_text(curve, made) + parts_text(made) + poles_text(made) + driver_text(made);
}

// ---- files and figure --------------------------------------------------------------------------

CsvTable model_csv(const ImpedanceCurve& curve, const Modelled& made) {
  CsvTable table;
  table.add("frequency_hz", curve.frequency_hz());
  table.add("magnitude_ohm", curve.magnitude_ohm());
  if (curve.has_phase()) table.add("phase_deg", curve.phase_deg());
  table.add("model_magnitude_ohm", made.impedance_ohm.abs());
  table.add("model_phase_deg", phase_of(made.impedance_ohm));
  const ComplexArray error = relative_error(curve, made);
  table.add("magnitude_error_percent", 100 * error.real());
  if (curve.has_phase()) table.add("phase_error_percent", 100 * error.imag());
  return table;
}

plots::CurveFigure model_figure(const ImpedanceCurve& curve, const Modelled& made) {
  plots::CurveFigure figure;
  const double largest = made.largest_error_percent;
  const std::string error_words =
      largest < 0.001
          ? "error below 0.001 %"
          : percent_text(made.rms_error_percent) + " rms, " + percent_text(largest) + " at most";
  figure.conclusion = fmt::format("A model of {}: {}", made.order_words, error_words);
  figure.curve_title = curve.notes().title;
  figure.caption = notes_text(curve.notes());
  figure.frequency_hz = curve.frequency_hz();
  figure.magnitude_ohm = curve.magnitude_ohm();
  if (curve.has_phase()) figure.phase_deg = unwrapped_deg(curve.phase_deg());
  figure.compared = {"model", made.impedance_ohm.abs(), phase_of(made.impedance_ohm)};
  const ComplexArray error = relative_error(curve, made);
  figure.residuals.push_back({"magnitude", 100 * error.real()});
  if (curve.has_phase()) figure.residuals.push_back({"phase", 100 * error.imag()});
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

void check_write(const ModelCommand& options) {
  if (!options.write) return;
  if (!lower(*options.write).ends_with(".toml"))
    throw InputError("--write \"" + printable(*options.write) + "\" names no circuit file",
                     "end it in .circuit.toml");
}

Answer answer(const ModelCommand& options) {
  check_write(options);
  const auto input = std::make_shared<const CurveInput>(read_curve_input(options.file));
  const auto made = std::make_shared<const Modelled>(model(input->curve, options));
  Answer result;
  result.text = modelled_text(input->curve, *made);
  result.json = model_json(*made);
  result.warnings = input->warnings;
  result.warnings.insert(result.warnings.end(), made->warnings.begin(), made->warnings.end());
  result.csv = model_csv(input->curve, *made);
  result.draw = [input, made](const plots::Output& output) {
    plots::draw(model_figure(input->curve, *made), output);
  };
  if (options.write) result.documents.emplace_back(*options.write, circuit_text(*made->written));
  return result;
}

}  // namespace

void add_model(Command& program, Session& session) {
  auto options = std::make_shared<ModelCommand>();
  Command& command = *program.add_subcommand(
      "model", "The passive circuit behind an impedance curve, and a dynamic driver's parameters");
  command.footer(
      "Example:  ohmtilt model impedance-curves/single-dynamic.csv --write "
      "fitted.circuit.toml --plot model.svg\n"
      "The file can be used with `solve`, `deviation` and other commands. A rational model is "
      "written as controlled sources, to compute with and not to build.");
  command.add_option("file", options->file, "curve file, or an earphone file that names one")
      ->required();
  command.add_choice<Method>(
      "--method", options->method,
      {{"circuit", Method::circuit}, {"foster", Method::foster}, {"rational", Method::rational}},
      "circuit: parts, in parallel branches where that helps; foster: one chain of parts; "
      "rational: poles and residues by vector fitting");
  command.add_number(
      "--order", options->order,
      {.unit = "N", .least = 2, .most = 60, .whole = true, .otherwise = "chosen automatically"},
      "the most values of a circuit, or the poles of a rational model");
  command.add_option("--write", options->write, "write the circuit as FILE.circuit.toml")
      ->type_name("FILE");
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "model", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
