#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/command.h>
#include <cmath>

namespace ohmtilt::cli {

namespace {

std::string csv_text(const std::string& value) {
  std::string cell = "\"";
  // Spreadsheets run what begins so.
  if (!value.empty() && std::string_view("=+-@\t\r").find(value[0]) != std::string_view::npos)
    cell += '\'';
  for (const char c : valid_utf8(value)) cell += c == '"' ? std::string("\"\"") : std::string(1, c);
  return cell + '"';
}

/// A column's name as it is, in quotes where a comma or the like in it would mislead (RFC 4180).
std::string csv_head(const std::string& name) {
  const std::string quoted = csv_text(name);
  return quoted == '"' + name + '"' && name.find_first_of(",\r\n") == std::string::npos ? name
                                                                                        : quoted;
}

}  // namespace

void CsvTable::add(std::string name, const Array& values) {
  columns_.push_back({std::move(name), values, {}});
}

void CsvTable::add(std::string name, const std::vector<std::string>& texts) {
  columns_.push_back({std::move(name), {}, texts});
}

std::size_t CsvTable::Column::rows() const {
  return texts.empty() ? static_cast<std::size_t>(values.size()) : texts.size();
}

std::string CsvTable::Column::cell(std::size_t row) const {
  if (!texts.empty()) return csv_text(texts[row]);
  const double value = values[static_cast<Eigen::Index>(row)];  // what is not known stays empty
  return std::isfinite(value) ? number_text(value) : std::string();
}

std::string CsvTable::text() const {
  std::string text;
  const auto line = [&](const auto& cell) {
    for (std::size_t i = 0; i < columns_.size(); ++i) {
      if (i > 0) text += ',';
      text += cell(columns_[i]);
    }
    text += '\n';
  };
  line([](const Column& column) { return csv_head(column.name); });
  const std::size_t rows = columns_.empty() ? 0 : columns_[0].rows();
  for (std::size_t row = 0; row < rows; ++row)
    line([row](const Column& column) { return column.cell(row); });
  return text;
}

void add_output_options(Command& command, OutputOptions& options, bool with_figure) {
  command.add_flag("--json", options.json, "print one JSON object instead of text");
  command.add_option("--csv", options.csv, "write the numbers behind the figure to this file");
  if (with_figure) {
    command
        .add_option("--plot", options.plot,
                    "draw the figure to FILE.svg, FILE.png or FILE.pdf, or 'text' for the terminal")
        ->type_name("FILE");
    command.add_flag("--show", options.show, "show the figure in a window");
  }
  command.add_flag("--force", options.force, "replace files that exist");
}

void add_schematic_option(Command& command, OutputOptions& options, const std::string& what_for) {
  command
      .add_option("--draw", options.schematic,
                  "draw the schematic " + what_for + " to FILE.svg, FILE.png or FILE.pdf")
      ->type_name("FILE");
}

namespace {

Anchor parse_anchor(const std::string& text) {
  if (text == "none") return NoAnchor{};
  if (text.rfind("band:", 0) == 0) {
    const Band band = parse_band(text.substr(5), "--anchor band:");
    return AnchorBand{band.low_hz, band.high_hz};
  }
  const auto hz = parse_number(text);
  if (!hz || !std::isfinite(*hz) || !(*hz > 0))
    throw InputError("--anchor \"" + printable(text) + "\" is not understood",
                     "give a frequency in hertz (1000), a band (band:300-3000) or none");
  return AnchorFrequency{*hz};
}

}  // namespace

void add_anchor_option(Command& command, GridOptions& options) {
  command
      .add_option_function(
          "--anchor", [&options](const std::string& text) { options.anchor = parse_anchor(text); },
          "reference frequency, where both responses are normalised: Hz, band:LO-HI, or none "
          "[1000]")
      ->type_name("HZ");
}

void add_band_option(Command& command, Band& band) {
  command
      .add_option_function(
          "--band", [&band](const std::string& text) { band = parse_band(text, "--band"); },
          "frequency range in Hz, LO-HI [20-20000]")
      ->type_name("LO-HI");
}

void add_grid_options(Command& command, GridOptions& options) {
  add_band_option(command, options.band);
  command.add_number("--points", options.points,
                     {.unit = "N", .least = 2, .most = 20000, .whole = true},
                     "points of the frequency grid, equally spaced in log frequency");
}

Json json_number(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

Json json_number(const std::optional<double>& value) {
  return value ? json_number(*value) : Json(nullptr);
}

Json anchor_json(const Anchor& anchor) {
  if (const auto* one = std::get_if<AnchorFrequency>(&anchor)) return one->hz;
  if (const auto* band = std::get_if<AnchorBand>(&anchor))
    return Json::array({band->low_hz, band->high_hz});
  return nullptr;
}

Json extreme_json(const Extreme& extreme) { return {{"hz", extreme.hz}, {"db", extreme.db}}; }

Json json_array(const Array& values) {
  Json array = Json::array();
  for (const double value : values) array.push_back(json_number(value));
  return array;
}

namespace {

/// "20000", "20k", "20 kHz", "20000 Hz".
std::optional<double> hertz_of(std::string_view text) {
  double factor = 1;
  if (text.ends_with("Hz")) text.remove_suffix(2);
  if (text.ends_with('k')) {
    factor = 1000;
    text.remove_suffix(1);
  }
  if (text.ends_with(' ')) text.remove_suffix(1);
  const auto number = parse_number(text);
  return number ? std::optional(factor * *number) : std::nullopt;
}

}  // namespace

Band parse_band(const std::string& text, const std::string& flag) {
  const auto dash = text.find('-', 1);
  const auto low = hertz_of(std::string_view(text).substr(0, dash));
  const auto high =
      dash == std::string::npos ? std::nullopt : hertz_of(std::string_view(text).substr(dash + 1));
  if (!low || !high || !(*low > 0) || !(*low < *high) || !std::isfinite(*high))
    throw InputError(flag + " \"" + printable(text) + "\" is not a band",
                     "give two positive frequencies in hertz, the lower first: 20-20000");
  return {*low, *high};
}

}  // namespace ohmtilt::cli
