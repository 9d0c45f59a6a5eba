// ohmtilt hiss: whether the noise of a source is heard through an earphone.
#include <fmt/format.h>

#include <ohmtilt/hearing/third_octave.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/number_range.h>
#include <ohmtilt/text/number_table.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/hiss.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct HissCommand {
  ChainFiles files;
  HissOptions how;
  std::optional<std::string> spectrum;
  std::optional<double> limit_db;  // exit 1 beyond it
  OutputOptions output;
};

// ---- the answer as JSON ------------------------------------------------------------------------

Json hiss_json(const Hiss& hiss) {
  Json parts = Json::array();
  for (const auto& part : hiss.parts)
    parts.push_back({{"name", valid_utf8(part.name)}, {"level_dba", json_number(part.level_dba)}});
  Json audible = Json::array();
  for (const double hz : hiss.audible_hz) audible.push_back(hz);
  return {{"level_dba", json_number(hiss.level_dba)},
          {"band_hz", json_array(hiss.band_hz)},
          {"band_db", json_array(hiss.band_db)},
          {"threshold_db", json_array(hiss.threshold_db)},
          {"audible_bands", audible},
          {"parts", parts}};
}

Json found_json(const HissFound& found) {
  Json json = hiss_json(found.result);
  const auto& pad = found.result.pad;
  json["pad"] = pad ? Json{{"attenuation_db", pad->attenuation_db},
                           {"level_dba", json_number(pad->level_dba)},
                           {"pad_level_dba", json_number(pad->pad_level_dba)},
                           {"audible", pad->audible}}
                    : Json(nullptr);
  if (found.against) json["against"] = hiss_json(*found.against);
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

}  // namespace

std::string dba_text(double dba) {
  if (!std::isfinite(dba)) return "nothing";
  return fmt::format("{:.1f} dB(A)", tenths(dba));
}

namespace {

std::string nominal_text(double exact_hz) {
  for (const auto& band : third_octaves())
    if (std::abs(band.exact_hz / exact_hz - 1) < 1e-6) return hz_text(band.nominal_hz);
  return hz_text(exact_hz);
}

}  // namespace

std::string over_threshold_text(double over_db) {
  return over_db > 0 ? significant_up(over_db) + " dB above"
                     : significant_down(-over_db) + " dB below";
}

std::string conclusion(const Hiss& hiss) {
  if (!std::isfinite(hiss.over_threshold_db)) return "There is no noise to compare with hearing";
  const std::string where = nominal_text(hiss.over_threshold_hz);
  const double over_db = hiss.over_threshold_db;
  const std::string over = over_threshold_text(over_db) + " the threshold of hearing, ";
  return over_db > 0 ? "Hiss is audible: up to " + over + "most at " + where
                     : "Hiss is inaudible: at least " + over + "closest at " + where;
}

std::string bands_text(const Hiss& hiss) {
  if (hiss.audible_hz.empty()) return "no third-octave is above the threshold";
  const std::string first = nominal_text(hiss.audible_hz.front());
  if (hiss.audible_hz.size() == 1) return "one third-octave is above the threshold, at " + first;
  return fmt::format("{} third-octaves are above the threshold, from {} to {}",
                     hiss.audible_hz.size(), first, nominal_text(hiss.audible_hz.back()));
}

Rows parts_rows(const Hiss& hiss) {
  Rows rows;
  for (const auto& part : hiss.parts) rows.push_back({part.name, dba_text(part.level_dba)});
  rows.push_back({"total", dba_text(hiss.level_dba)});
  return rows;
}

std::string pad_text(const Hiss& hiss) {
  if (!hiss.pad) return "";
  const PadEffect& pad = *hiss.pad;
  return fmt::format(
      "A pad of {} dB before the earphone leaves {} ({:+.1f} dB), {}; its own resistors make "
      "{}.\n",
      number_text(pad.attenuation_db), dba_text(pad.level_dba),
      tenths(pad.level_dba - hiss.level_dba), pad.audible ? "still audible" : "inaudible",
      dba_text(pad.pad_level_dba));
}

namespace {

/// The octaves that the threshold is known in.
std::string band_table(const Hiss& hiss) {
  std::vector<std::vector<std::string>> rows{{"Hz"}, {"noise, dB"}, {"threshold, dB"}};
  const auto cell = [](double db) {
    return std::isfinite(db) ? fmt::format("{:.0f}", std::round(db) + 0.0) : "-";
  };
  for (const auto& octave : octaves())
    for (Eigen::Index b = 0; b < hiss.band_hz.size(); ++b) {
      if (std::abs(hiss.band_hz[b] / octave.exact_hz - 1) > 1e-6) continue;
      if (!std::isfinite(hiss.threshold_db[b])) continue;
      rows[0].push_back(short_hz(octave.nominal_hz));
      rows[1].push_back(cell(hiss.band_db[b]));
      rows[2].push_back(cell(hiss.threshold_db[b]));
    }
  return "Third-octave levels\n" + aligned(rows);
}

}  // namespace

std::string threshold_text(HearingThreshold threshold) {
  return threshold == HearingThreshold::insert
             ? "Threshold: insert earphones in an ear simulator, ISO 389-2 and -5"
             : "Threshold: free field, ISO 389-7, without the ear's own gain";
}

namespace {

/// "the earphone's isolation of 26 dB".
std::string isolation_text(const std::optional<Isolation>& isolation) {
  if (!isolation) return "an earphone whose isolation is not known (taken as none)";
  const auto* figure = std::get_if<double>(&*isolation);
  return figure ? "the earphone's isolation of " + number_text(*figure) + " dB"
                : std::string("the earphone's isolation");
}

std::string ambient_text(const HissFound& found) {
  if (!found.how.ambient_dba) return "";
  return fmt::format(
      "Surroundings of {} dB(A), pink, come through {} and mask hiss:\nvalid in that noise only, "
      "not "
      "in a quiet room.\n",
      number_text(*found.how.ambient_dba), isolation_text(found.input.earphone.isolation));
}

std::string found_text(const HissFound& found) {
  std::string text = fmt::format("{} behind {}\n{}; {}.\n\n", printable(found.input.earphone.title),
                                 printable(found.input.chain.title()), conclusion(found.result),
                                 bands_text(found.result));
  text += aligned(parts_rows(found.result)) + "\n" + band_table(found.result) + "\n";
  if (found.against)
    text += fmt::format("Against {}: {} ({:+.1f} dB). {}.\n{}\n",
                        printable(found.input.against->title()), dba_text(found.against->level_dba),
                        tenths(found.against->level_dba - found.result.level_dba),
                        conclusion(*found.against), aligned(parts_rows(*found.against)));
  return text + pad_text(found.result) + threshold_text(found.how.threshold) +
         ", for young people of normal hearing.\n" + ambient_text(found);
}

// ---- files and figure --------------------------------------------------------------------------

CsvTable found_csv(const HissFound& found) {
  CsvTable table;
  table.add("frequency_hz", found.result.band_hz);
  table.add("band_db", found.result.band_db);
  table.add("threshold_db", found.result.threshold_db);
  if (found.against) table.add("band_db_2", found.against->band_db);
  return table;
}

}  // namespace

plots::HissFigure figure_of(const HissFound& found) {
  plots::HissFigure figure;
  figure.title = conclusion(found.result);
  figure.subtitle = subtitle(found.input.chain.title(), found.input.earphone.title);
  figure.caption = fmt::format(
      "{}; {} in all{}", threshold_text(found.how.threshold), dba_text(found.result.level_dba),
      found.how.ambient_dba
          ? fmt::format(", surroundings {} dB(A)", number_text(*found.how.ambient_dba))
          : std::string());
  figure.band_hz = found.result.band_hz;
  const double half = std::pow(10.0, 1.0 / 20);  // a third-octave's edge, IEC 61260-1
  figure.band_low_hz = figure.band_hz / half;
  figure.band_high_hz = figure.band_hz * half;
  figure.band_db = found.result.band_db;
  figure.threshold_db = found.result.threshold_db;
  figure.threshold_label = found.how.ambient_dba ? "threshold, masked" : "threshold of hearing";
  figure.label = found.against ? found.input.chain.short_name() : "noise";
  if (found.against) {
    figure.against_db = found.against->band_db;
    figure.against_label = found.input.against->short_name();
  }
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

namespace {

NoiseSpectrum read_noise_spectrum(const std::string& file) {
  NumberTableOptions how;
  how.least_columns = 2;
  how.most_rows = 100'000;
  how.is_name = [](std::string_view name) {
    return name == "frequency_hz" || name == "volt_per_root_hz";
  };
  const NumberTable table = read_number_table(file, how);
  const auto rows = static_cast<Eigen::Index>(table.row_count());
  if (rows < 2)
    throw InputError(Place{file}, "a noise spectrum of one row has no range",
                     "give frequency_hz,volt_per_root_hz in two rows or more");
  require_in_range(table, 0, "frequency_hz");
  require_in_range(table, 1, "volt_per_root_hz");
  for (std::size_t row = 0; row < table.row_count(); ++row) {
    const double hz = table.columns[0][row];
    const double before = row == 0 ? 0 : table.columns[0][row - 1];
    if (!(hz > before && std::isfinite(hz)))
      throw InputError(table.place(row, 0), "the frequency does not rise above the one before",
                       "give positive frequencies in hertz, rising");
    if (!(table.columns[1][row] >= 0 && std::isfinite(table.columns[1][row])))
      throw InputError(
          table.place(row, 1),
          "a noise density of " + number_text(table.columns[1][row]) + " is not allowed",
          "give volt per root hertz, 0 or more");
  }
  return {Eigen::Map<const Array>(table.columns[0].data(), rows),
          Eigen::Map<const Array>(table.columns[1].data(), rows)};
}

HissOptions how_of(const HissCommand& options) {
  HissOptions how = options.how;
  if (options.spectrum) how.spectrum = read_noise_spectrum(*options.spectrum);
  return how;
}

Answer answer(const HissCommand& options) {
  const HissOptions how = how_of(options);
  const auto found =
      std::make_shared<const HissFound>(ask(read_level_input(options.files), how, hiss));
  Answer given;
  add_bias_cautions(given, found->input);
  given.warnings = found->warnings();
  given.text = found_text(*found);
  given.json = found_json(*found);
  given.csv = found_csv(*found);
  given.draw = [found](const plots::Output& output) { plots::draw(figure_of(*found), output); };
  const double over_db = found->result.over_threshold_db;
  if (options.limit_db && over_db > *options.limit_db)
    exceed(given,
           fmt::format("{}{} dB re the threshold, at most {} dB asked", over_db < 0 ? "" : "+",
                       beyond_text(over_db, *options.limit_db, 1), number_text(*options.limit_db)));
  return given;
}

void add_options(Command& command, HissCommand& options) {
  add_chain_arguments(command, options.files, "earphone file with a sensitivity");
  add_against_option(command, options.files.against, "to compare with");
  command.add_choice<HearingThreshold>(
      "--threshold", options.how.threshold,
      {{"insert", HearingThreshold::insert}, {"free-field", HearingThreshold::free_field}},
      "threshold of hearing: insert (ISO 389-2, -5) or free-field (ISO 389-7)");
  command.add_number(
      "--ambient", options.how.ambient_dba, {.unit = "DBA"},
      "level around the listener in dB(A), pink; masks through the earphone's isolation");
  command
      .add_option("--noise-spectrum", options.spectrum,
                  "the source's noise as a table frequency_hz,volt_per_root_hz, in place of "
                  "noise_volt")
      ->type_name("FILE");
  command.add_number("--control", options.how.control_db, {.unit = "DB"},
                     "volume setting in dB (0 or less), if the noise arises before the control");
  command.add_number("--pad", options.how.pad_db, {.unit = "DB"},
                     "attenuation of an example pad, in dB");
  add_limit_option(
      command, options.limit_db,
      "exit with 1 if hiss is more than this many dB above the threshold of hearing; 0: if it is "
      "audible, -6: if it comes nearer than 6 dB");
  command.add_number("--temperature-kelvin", options.how.kelvin, {.unit = "K"},
                     "of the resistors, for thermal noise, in kelvin");
  add_output_options(command, options.output);
}

}  // namespace

void add_hiss(Command& program, Session& session) {
  auto options = std::make_shared<HissCommand>();
  Command& command = *program.add_subcommand(
      "hiss",
      "Whether a source's noise is heard through an earphone, where, and what a pad changes");
  command.footer(
      "Example:  ohmtilt hiss impedance-curves/bare-output.chain.toml "
      "impedance-curves/five-armature.earphone.toml --against "
      "impedance-curves/attenuator-engaged.chain.toml --plot hiss.svg\n"
      "The chain says noise_volt, the earphone its sensitivity.");
  add_options(command, *options);
  command.callback([options, &session] {
    respond(session, options->output, "hiss", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
