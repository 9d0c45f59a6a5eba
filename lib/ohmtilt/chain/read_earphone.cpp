#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/included_file.h>
#include <ohmtilt/text/strict_toml.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>

namespace ohmtilt {
namespace {

/// The same earphone, with what the reader of its file said first.
Earphone with_reader_warnings(Earphone earphone, std::vector<std::string> warnings) {
  append_new(warnings, earphone.warnings);
  earphone.warnings = std::move(warnings);
  return earphone;
}

Earphone read_curve_earphone(const std::filesystem::path& file) {
  auto read = read_impedance(file);
  return with_reader_warnings(earphone_from_curve(read.value), std::move(read.warnings));
}

Earphone read_circuit_earphone(Read<Circuit> read) {
  return with_reader_warnings(earphone_from_circuit(read.value), std::move(read.warnings));
}

std::optional<double> positive(const TomlTable& table, const std::string& key,
                               std::optional<double> value) {
  if (value && !(*value > 0))
    table.refuse(key, "is " + number_text(*value) + ", which is not physical",
                 "it should be more than 0");
  return value;
}

std::optional<double> positive_number(const TomlTable& table, const std::string& key) {
  return positive(table, key, table.number(key));
}

std::optional<double> positive_resistance(const TomlTable& table, const std::string& key) {
  if (!table.has(key)) return std::nullopt;
  return positive(table, key, table.require_resistance(key));
}

/// The impedance, from the one of the two files that is named.
Earphone impedance_of(const TomlTable& table, const std::filesystem::path& folder) {
  if (table.has("impedance") && table.has("circuit"))
    table.refuse("circuit", "stands beside `impedance`", "name one of them");
  const std::string key = table.has("circuit") ? "circuit" : "impedance";
  const auto file = included_file(table, key, folder);
  if (key == "impedance" && is_toml_name(file))
    table.refuse(key, "names a TOML file", "name a curve, or write circuit = \"...\"");
  if (key == "impedance") return read_curve_earphone(file);
  const auto circuit = circuit_table(file);
  if (!circuit)
    table.refuse(key, "names no circuit", "name a circuit file, or write impedance = \"...\"");
  return read_circuit_earphone(read_circuit(*circuit));
}

ResponseCurve response_of(const TomlTable& table, const std::string& key,
                          const std::filesystem::path& folder, Earphone& earphone) {
  auto read = read_response(included_file(table, key, folder));
  append_new(earphone.warnings, read.warnings);
  return std::move(read.value);
}

void read_response_keys(const TomlTable& table, const std::filesystem::path& folder,
                        Earphone& earphone) {
  const double source_ohm = table.resistance_or("response_source_ohm", 0);
  if (source_ohm < 0)
    table.refuse("response_source_ohm", "is " + number_text(source_ohm) + ", which is not physical",
                 "it should be 0 or more");
  if (table.has("response")) {
    earphone.response =
        MeasuredResponse{response_of(table, "response", folder, earphone), source_ohm};
    if (!table.has("response_source_ohm"))
      earphone.warnings.push_back(
          "the response of " + printable(earphone.title) +
          " is taken as measured with 0 ohm; response_source_ohm says more");
  } else if (table.has("response_source_ohm")) {
    table.refuse("response", "is missing", "add it, or leave out response_source_ohm");
  }
}

/// The impedance that a sensitivity at 1 mW refers to.
double sensitivity_ohm(const TomlTable& table) {
  const std::string key = table.has("sensitivity_ohm") ? "sensitivity_ohm" : "rated_ohm";
  if (!table.has(key))
    table.refuse("sensitivity_ohm", "is missing, and so is `rated_ohm`",
                 "say which impedance the milliwatt refers to");
  return *positive_resistance(table, key);
}

void read_sensitivity(const TomlTable& table, Earphone& earphone) {
  const std::string per_volt = "sensitivity_db_per_volt";
  const std::string per_milliwatt = "sensitivity_db_per_milliwatt";
  const auto hz = positive_number(table, "sensitivity_hz");
  if (table.has(per_volt) && table.has(per_milliwatt))
    table.refuse(per_milliwatt, "stands beside `" + per_volt + "`", "give one of them");
  if (const auto db = table.number(per_volt)) earphone.sensitivity = {*db, hz.value_or(1000)};
  if (const auto db = table.number(per_milliwatt)) {
    earphone.sensitivity_ohm = sensitivity_ohm(table);
    earphone.sensitivity = {db_per_volt_from_milliwatt(*db, *earphone.sensitivity_ohm),
                            hz.value_or(1000)};
  }
  if (!table.has(per_milliwatt) && table.has("sensitivity_ohm"))
    table.refuse(per_milliwatt, "is missing", "add it, or leave out sensitivity_ohm");
  if (!earphone.sensitivity && hz)
    table.refuse(per_volt, "is missing", "add it, or leave out sensitivity_hz");
  if (earphone.sensitivity && std::abs(earphone.sensitivity->db_per_volt) > 300)
    table.refuse(table.has(per_volt) ? per_volt : per_milliwatt, "is beyond anything physical",
                 "give dB SPL, such as 120");
}

bool is_isolation(double db) { return db >= 0 && db <= 300; }

void refuse_rows_of_no_isolation(const ResponseCurve& curve) {
  for (Eigen::Index i = 0; i < curve.points(); ++i)
    if (!is_isolation(curve.level_db()[i]))
      throw InputError(Place{curve.notes().file},
                       "the isolation is " + number_text(curve.level_db()[i]) + " dB at " +
                           number_text(curve.frequency_hz()[i]) + " Hz",
                       "it should be from 0 to 300, positive where the earphone keeps sound out");
}

void read_isolation(const TomlTable& table, const std::filesystem::path& folder,
                    Earphone& earphone) {
  if (table.has("isolation") && table.has("isolation_db"))
    table.refuse("isolation", "stands beside `isolation_db`", "give one of them");
  const auto figure = table.number("isolation_db");
  if (figure && !is_isolation(*figure))
    table.refuse("isolation_db", "is " + number_text(*figure), "it should be from 0 to 300");
  if (figure) earphone.isolation = *figure;
  if (!table.has("isolation")) return;
  ResponseCurve curve = response_of(table, "isolation", folder, earphone);
  refuse_rows_of_no_isolation(curve);
  earphone.isolation = std::move(curve);
}

void read_direct_voltage(const TomlTable& table, Earphone& earphone) {
  earphone.needed_bias_volt = table.number("needed_bias_volt");
  if (earphone.needed_bias_volt == 0.0)
    table.refuse("needed_bias_volt", "is 0",
                 "give the volts, or leave it out where none is needed");
  if (table.has("blocks_direct_current"))
    earphone.blocks_direct_current = table.flag_or("blocks_direct_current", false);
}

Earphone earphone_of(const TomlTable& table, const std::filesystem::path& folder) {
  table.refuse_unknown_keys({"title", "label", "kind", "impedance", "circuit", "response",
                             "response_source_ohm", "sensitivity_db_per_volt",
                             "sensitivity_db_per_milliwatt", "sensitivity_ohm", "sensitivity_hz",
                             "rated_ohm", "max_watt", "isolation", "isolation_db",
                             "needed_bias_volt", "blocks_direct_current"});
  Earphone earphone = impedance_of(table, folder);
  earphone.title = one_line(table.text_or("title", earphone.title));
  earphone.label = table.text_or("label", "");
  earphone.kind = table.text_or("kind", "");
  earphone.rated_ohm = positive_resistance(table, "rated_ohm");
  earphone.max_watt = positive_number(table, "max_watt");
  read_direct_voltage(table, earphone);
  read_response_keys(table, folder, earphone);
  read_sensitivity(table, earphone);
  read_isolation(table, folder, earphone);
  return earphone;
}

[[noreturn]] void refuse_content(const TomlTable& table) {
  const bool chain = content_of(table) == TomlContent::chain;
  throw InputError(Place{table.file()},
                   chain ? "this is a chain, not an earphone" : "this is no earphone",
                   chain ? "give it as a source, and name an earphone here"
                         : "name a curve, a circuit, or a file with `impedance` or `circuit`");
}

}  // namespace

Earphone parse_earphone(std::string_view toml, const std::string& name,
                        const std::filesystem::path& folder) {
  const TomlTable table = parse_toml(toml, name);
  switch (content_of(table)) {
    case TomlContent::circuit:
      return read_circuit_earphone(parse_circuit(toml, name, folder));
    case TomlContent::earphone:
      return earphone_of(table, folder);
    case TomlContent::chain:
    case TomlContent::unknown:
      break;
  }
  refuse_content(table);
}

Earphone read_earphone(const std::filesystem::path& file) {
  if (!is_toml_name(file)) return read_curve_earphone(file);
  const TomlTable table = read_toml(file);
  if (content_of(table) == TomlContent::circuit) return read_circuit_earphone(read_circuit(table));
  if (content_of(table) == TomlContent::earphone) return earphone_of(table, file.parent_path());
  refuse_content(table);
}

}  // namespace ohmtilt
