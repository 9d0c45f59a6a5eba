// ohmtilt equalize: what a source does to an earphone's response, undone in the player.
#include <fmt/format.h>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/design/equalizer/equalizer.h>
#include <ohmtilt/design/equalizer/fir.h>
#include <ohmtilt/measure/wav.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/equalizer_figure.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct EqualizeCommand {
  std::string earphone;
  std::string from = "0";
  std::string to;
  GridOptions grid;
  EqualizerOptions filters;
  std::optional<std::string> q, filter_band;
  std::optional<std::string> write;  // the filters as a table
  std::optional<std::string> fir;    // a WAV file
  std::optional<int> taps;
  std::optional<FirPhase> fir_phase;
  OutputOptions output;
};

struct FirResult {
  Fir fir;
  Array correction_db;  // fir.lead_level_db included
  Residual residual;
};

struct Result {
  std::string title, from_label, to_label;
  double sample_rate_hz;
  Equalizer equalizer;
  std::optional<FirResult> fir;
  std::vector<std::string> warnings;
  std::vector<std::string> cautions = {};

  std::string change() const { return to_label + " instead of " + from_label; }
};

// ---- the answer as JSON and tables -------------------------------------------------------------

Json filter_json(const Filter& filter, double sample_rate_hz) {
  const Biquad coefficients = biquad(filter, sample_rate_hz);
  return {{"kind", to_string(filter.kind)},
          {"hz", filter.hz},
          {"gain_db", filter.gain_db},
          {"q", filter.q},
          {"b", coefficients.b},
          {"a", coefficients.a}};
}

Json fir_json(const std::optional<FirResult>& result) {
  if (!result) return nullptr;
  return {{"taps", result->fir.taps.size()},
          {"phase", to_string(result->fir.phase)},
          {"lead_level_db", result->fir.lead_level_db},
          {"delay_ms", 1000 * result->fir.delay_s},
          {"residual_span_db", result->residual.span_db},
          {"residual_rms_db", result->residual.rms_db},
          {"correction_db", json_array(result->correction_db)},
          {"residual_db", json_array(result->residual.db)}};
}

Json result_json(const Result& result) {
  const Equalizer& equalizer = result.equalizer;
  Json json{{"earphone", {{"title", result.title}}},
            {"from", {{"label", result.from_label}}},
            {"to", {{"label", result.to_label}}},
            {"sample_rate_hz", result.sample_rate_hz},
            {"filters", Json::array()},
            {"lead_level_db", equalizer.lead_level_db},
            {"level_change_db", equalizer.level_change_db},
            {"residual_span_db", equalizer.residual.span_db},
            {"residual_rms_db", equalizer.residual.rms_db},
            {"frequency_hz", json_array(equalizer.frequency_hz)},
            {"deviation_db", json_array(equalizer.deviation_db)},
            {"correction_db", json_array(equalizer.correction_db)},
            {"residual_db", json_array(equalizer.residual.db)},
            {"fir", fir_json(result.fir)}};
  for (const auto& filter : equalizer.filters)
    json["filters"].push_back(filter_json(filter, result.sample_rate_hz));
  return json;
}

CsvTable result_csv(const Result& result) {
  CsvTable table;
  table.add("frequency_hz", result.equalizer.frequency_hz);
  table.add("deviation_db", result.equalizer.deviation_db);
  table.add("correction_db", result.equalizer.correction_db);
  table.add("residual_db", result.equalizer.residual.db);
  if (!result.fir) return table;
  table.add("fir_correction_db", result.fir->correction_db);
  table.add("fir_residual_db", result.fir->residual.db);
  return table;
}

/// The filters with all digits, for a program or a spreadsheet.
std::string filter_table(const Result& result) {
  std::string text = "# title: filters for " + one_line(result.title) + " that undo " +
                     one_line(result.change()) +
                     "\n# sample_rate_hz: " + number_text(result.sample_rate_hz) +
                     "\n# lead_level_db: " + number_text(result.equalizer.lead_level_db) +
                     "\nnumber,kind,frequency_hz,gain_db,q,b0,b1,b2,a0,a1,a2\n";
  int number = 0;
  for (const auto& filter : result.equalizer.filters) {
    const Biquad coefficients = biquad(filter, result.sample_rate_hz);
    text += fmt::format("{},{},{},{},{}", ++number, to_string(filter.kind), number_text(filter.hz),
                        number_text(filter.gain_db), number_text(filter.q));
    for (const double b : coefficients.b) text += "," + number_text(b);
    for (const double a : coefficients.a) text += "," + number_text(a);
    text += "\n";
  }
  return text;
}

/// One channel of 32-bit floating samples.
WavContent fir_recording(const Fir& fir) {
  WavContent content{{}, static_cast<int>(fir.sample_rate_hz), 1, true};
  for (const double tap : fir.taps) content.samples.push_back(static_cast<float>(tap));
  return content;
}

// ---- the answer as text ------------------------------------------------------------------------

std::string filters_text(const Equalizer& equalizer) {
  std::vector<std::vector<std::string>> rows{{"filter", "kind", "Hz", "gain, dB", "Q"}};
  for (const auto& filter : equalizer.filters)
    rows.push_back({std::to_string(rows.size()), to_string(filter.kind),
                    fmt::format("{:.1f}", filter.hz), fmt::format("{:+.2f}", filter.gain_db),
                    fmt::format("{:.3f}", filter.q)});
  return aligned(rows);
}

std::string filters_conclusion(const Result& result) {
  const Equalizer& equalizer = result.equalizer;
  const Array& db = equalizer.deviation_db;
  const std::size_t count = equalizer.filters.size();
  return fmt::format("{}: {} {} {} the span from {} to {}", result.change(), count,
                     count == 1 ? "filter" : "filters", count == 1 ? "brings" : "bring",
                     db_text(db.maxCoeff() - db.minCoeff()), db_text(equalizer.residual.span_db));
}

/// To hundredths, and no higher.
double rounded_down(double db) { return std::floor(100 * db + 1e-9) / 100; }

std::string level_text(const Equalizer& equalizer) {
  const std::string average =
      fmt::format("On average the level changes by {}.\n", signed_db(equalizer.level_change_db));
  if (equalizer.lead_level_db == 0) return "The level before the filters can stay. " + average;
  return fmt::format("Lower the level by {} before the filters, or they clip. ",
                     db_text(-rounded_down(equalizer.lead_level_db))) +
         average;
}

std::string fir_text(const FirResult& result) {
  return fmt::format("FIR, {} phase, {} taps: span {}, rms {}, level {}, delay {:.1f} ms\n",
                     to_string(result.fir.phase), result.fir.taps.size(),
                     db_text(result.residual.span_db), db_text(result.residual.rms_db),
                     signed_db(result.fir.lead_level_db), 1000 * result.fir.delay_s);
}

std::string result_text(const Result& result) {
  std::string text =
      fmt::format("{}\n{} (rms {} over log frequency).\n\n", printable(result.title),
                  filters_conclusion(result), db_text(result.equalizer.residual.rms_db));
  if (!result.equalizer.filters.empty())
    text += filters_text(result.equalizer) +
            "In this order no filter's output exceeds the last one's "
            "highest level, or full scale.\n" +
            level_text(result.equalizer);
  if (result.equalizer.filters.empty()) text += "No filter is needed, or none was allowed.\n";
  text += fmt::format("At {} samples per second; another rate needs other coefficients.\n",
                      number_text(result.sample_rate_hz));
  return result.fir ? text + fir_text(*result.fir) : text;
}

plots::EqualizerFigure result_figure(const Result& result) {
  const Equalizer& equalizer = result.equalizer;
  const Array& hz = equalizer.frequency_hz;
  Array filter_hz(equalizer.filters.size());
  std::transform(equalizer.filters.begin(), equalizer.filters.end(), filter_hz.begin(),
                 [](const Filter& filter) { return filter.hz; });
  return {result.title,
          filters_conclusion(result),
          fmt::format(
              "{} samples per second, level before the filters {}; each curve less its mean",
              number_text(result.sample_rate_hz), signed_db(rounded_down(equalizer.lead_level_db))),
          hz,
          equalizer.deviation_db,
          residual_of(hz, equalizer.correction_db).db,
          equalizer.residual.db,
          filter_hz,
          result.fir ? result.fir->residual.db : Array()};
}

// ---- the command -------------------------------------------------------------------------------

FirOptions fir_options(const EqualizeCommand& options) {
  FirOptions result;
  result.sample_rate_hz = options.filters.sample_rate_hz;
  result.taps = options.taps.value_or(result.taps);
  result.phase = options.fir_phase.value_or(result.phase);
  if (result.sample_rate_hz != std::floor(result.sample_rate_hz))
    throw InputError(
        "a WAV file has no sample rate of " + number_text(result.sample_rate_hz) + " Hz",
        "give a whole number with --sample-rate");
  return result;
}

void check(const EqualizeCommand& options) {
  if (!options.fir && (options.taps || options.fir_phase))
    throw InputError("--taps and --fir-phase shape a FIR that is not asked for",
                     "name its file with --fir FILE.wav, or leave them out");
  if (options.fir) fir_options(options);
}

FirResult fir_result(const Equalizer& equalizer, const FirOptions& options) {
  const Array& hz = equalizer.frequency_hz;
  Fir fir = inverse_fir(hz, equalizer.deviation_db, options);
  const Array correction_db = response_db(fir, hz);
  return {std::move(fir), correction_db, residual_of(hz, equalizer.deviation_db + correction_db)};
}

/// "0.2-10" into the limits of Q.
void set_q(const std::string& text, EqualizerOptions& filters) {
  const auto dash = text.find('-', 1);
  const auto low = parse_number(text.substr(0, dash));
  const auto high = dash == std::string::npos ? low : parse_number(text.substr(dash + 1));
  if (!low || !high || !(*low > 0 && *low <= *high && std::isfinite(*high)))
    throw InputError("--q \"" + printable(text) + "\" is not a range",
                     "give two positive values, the lower first: 0.5-5");
  filters.lowest_q = *low;
  filters.highest_q = *high;
}

EqualizeCommand with_limits(EqualizeCommand options) {
  if (options.q) set_q(*options.q, options.filters);
  if (options.filter_band)
    options.filters.filter_band = parse_band(*options.filter_band, "--filter-band");
  return options;
}

Result work(const EqualizeCommand& options) {
  const Earphone earphone = read_earphone(options.earphone);
  const TheveninSource from = read_source(options.from);
  const TheveninSource to = read_source(options.to);
  const Comparison comparison = compare_sources(
      earphone, from, {to}, {options.grid.band, options.grid.points, NoAnchor{}, std::nullopt});
  Result result{earphone.title,
                from.label,
                to.label,
                options.filters.sample_rate_hz,
                equalize(comparison.grid.grid_hz, comparison.cases[0].deviation.deviation_db,
                         options.filters),
                std::nullopt,
                comparison.warnings};
  result.cautions = bias_cautions({from, to}, earphone);
  const auto& more = result.equalizer.warnings;
  result.warnings.insert(result.warnings.end(), more.begin(), more.end());
  if (options.fir) result.fir = fir_result(result.equalizer, fir_options(options));
  return result;
}

Answer answer(const EqualizeCommand& given) {
  const EqualizeCommand options = with_limits(given);
  check(options);
  const auto result = std::make_shared<const Result>(work(options));
  Answer answer;
  answer.text = result_text(*result);
  answer.json = result_json(*result);
  answer.cautions = result->cautions;
  answer.warnings = result->warnings;
  answer.csv = result_csv(*result);
  answer.draw = [result](const plots::Output& output) {
    plots::draw(result_figure(*result), output);
  };
  if (options.fir)
    answer.files.emplace_back(*options.fir, [result, file = *options.fir](bool replace) {
      write_wav(file, fir_recording(result->fir->fir), replace);
    });
  if (options.write) answer.documents.emplace_back(*options.write, filter_table(*result));
  return answer;
}

void add_fir_options(Command& command, EqualizeCommand& options) {
  command.add_option("--fir", options.fir, "also write the correction as a FIR to this WAV file")
      ->type_name("FILE.wav");
  command.add_number("--taps", options.taps,
                     {.unit = "N", .least = 16, .most = 65535, .whole = true, .otherwise = "4095"},
                     "length of the FIR in samples");
  command.add_choice<std::optional<FirPhase>>(
      "--fir-phase", options.fir_phase,
      {{"minimum", FirPhase::minimum}, {"linear", FirPhase::linear}},
      "minimum or linear (a delay) [minimum]");
}

}  // namespace

void add_equalize(Command& program, Session& session) {
  auto options = std::make_shared<EqualizeCommand>();
  Command& command = *program.add_subcommand(
      "equalize", "Filters for the player that undo what another source does to the response");
  command.footer(
      "Example:  ohmtilt equalize impedance-curves/two-way-armature.csv --to 6 --filters 5 "
      "--write filters.csv\n"
      "Filters follow the W3C Audio EQ Cookbook: peaking, low-shelf and high-shelf. Of sets that "
      "leave "
      "about the same error the one with the smaller gains is given. Those that lower come first: "
      "so no filter's output exceeds the last one's highest level, or full scale.");
  add_earphone_argument(command, options->earphone);
  add_from_option(command, options->from, "the source whose response is wanted");
  command.add_option("--to", options->to, "the source in use, ohm or file")
      ->type_name("SOURCE")
      ->required();
  add_grid_options(command, options->grid);
  command.add_number("--filters", options->filters.filters,
                     {.unit = "N", .least = 0, .most = 20, .whole = true},
                     "at most so many filters");
  command.add_number("--sample-rate", options->filters.sample_rate_hz,
                     {.unit = "HZ", .least = 8000, .most = 768000}, "sample rate of the player");
  command.add_number("--largest-gain", options->filters.largest_gain_db, {.unit = "DB"},
                     "of one filter, up or down");
  command
      .add_option("--q", options->q,
                  "Q of peaking filters; shelves have 0.3 to 0.707, where they are monotone "
                  "[0.2-10]")
      ->type_name("LO-HI");
  command
      .add_option("--filter-band", options->filter_band,
                  "where filters may lie, at most up to 0.45 of the sample rate; shelves keep an "
                  "octave within it [the band]")
      ->type_name("LO-HI");
  command.add_flag("--cut-only", options->filters.cut_only, "no filter raises anything");
  command
      .add_option("--write", options->write,
                  "write the filters with their coefficients to this table")
      ->type_name("FILE.csv");
  add_fir_options(command, *options);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "equalize", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
