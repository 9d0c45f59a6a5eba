// ohmtilt tune: values of a chain's or an earphone's parts that serve an aim best.
#include <fmt/format.h>

#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/design/tune/tune.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <plots/figures/tune_figure.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/input_lists.h>
#include <tools/ohmtilt/program/parts_list.h>
#include <tools/ohmtilt/program/prefixed.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/session.h>
#include <tools/ohmtilt/program/text_range.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <tools/ohmtilt/program/written_network.h>
#include <algorithm>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t shown_front = 12;

struct TuneCommand {
  std::string earphone, source;
  std::vector<std::string> moves;
  std::string from = "0";
  TuneAim minimise = TuneAim::span;
  std::vector<std::string> limits;
  std::optional<TuneAim> front;
  std::optional<std::string> target, target_band, series, stock, write, parts;
  bool free = false;
  long samples = 400;
  std::uint64_t seed = 1;
  GridOptions grid;
  OutputOptions output;
};

/// "loss=3", "loss=9.5-10.5"; of the noise in microvolt, of the current in milliampere.
TuneLimit parse_tune_limit(const std::string& text) {
  const auto equals = text.find('=');
  if (equals == std::string::npos)
    throw InputError("--limit \"" + printable(text, 40) + "\" has no value",
                     "give AIM=VALUE, such as --limit loss=3");
  const auto known = aim_of_name(text.substr(0, equals));
  if (!known)
    throw InputError("--limit \"" + printable(text.substr(0, equals), 40) + "\" is not known",
                     "say " + listed(aim_names()));
  const TuneAim aim = *known;
  const auto range = split_range(text.substr(equals + 1));
  std::optional<double> least;
  if (range) least = flag_number(range->first, "--limit");
  double value = flag_number(range ? range->second : text.substr(equals + 1), "--limit");
  const bool positive = aim != TuneAim::loss;
  if (positive && !(value > 0))
    throw InputError("--limit " + printable(text, 40) + " is not possible",
                     "give a number above 0");
  if (aim == TuneAim::noise) value *= 1e-6;
  if (aim == TuneAim::current) value *= 1e-3;
  return {aim, value, least};
}

/// A value of a part as a person writes it for that key: "8.2", "4R7", "100uH", "4.7uF", "1e-6".
double parse_part_value(const std::string& text, const std::string& key) {
  const auto refuse = [&]() -> double {
    throw InputError("--move: \"" + printable(text, 40) + "\" is no value of `" + key + "`",
                     "give a number, or one with a unit such as 4R7, 100uH or 4.7uF");
  };
  if (const auto number = parse_number(text)) return *number > 0 ? *number : refuse();
  const std::string unit = key.ends_with("henry") ? "H" : key.ends_with("farad") ? "F" : "";
  const bool has_unit = unit.empty() || text.ends_with(unit);
  try {
    const Stock stock = parse_stock(has_unit ? text : text + unit, "--move");
    if (key.ends_with("ohm") && stock.ohms.size() == 1) return stock.ohms[0];
    if (unit == "H" && stock.coils.size() == 1) return stock.coils[0].henry;
    if (unit == "F" && stock.farads.size() == 1) return stock.farads[0];
  } catch (const InputError&) {
    return refuse();
  }
  return refuse();
}

/// What a key may become: of the move's own word, of the options, or of the usual series.
std::vector<ValueChoice> choices_of(const TuneCommand& options,
                                    const std::optional<std::string>& own, const std::string& key,
                                    double low, double high) {
  const bool is_part = key.ends_with("ohm") || key.ends_with("henry") || key.ends_with("farad");
  if (own == "free" || (!own && (options.free || (!is_part && !options.series)))) return {};
  if (!own && options.stock && is_part) {
    auto choices = stock_choices(read_stock(*options.stock), key, low, high);
    if (!choices.empty()) return choices;
    throw InputError(printable(*options.stock) + " lists nothing for `" + key + "` from " +
                         part_value_text(low, key) + " to " + part_value_text(high, key),
                     "list some, widen the range, or end the move in :free");
  }
  const std::string series =
      own ? *own : options.series.value_or(key.ends_with("ohm") ? "E24" : "E12");
  auto choices = series_choices(parse_series(series), low, high);
  if (choices.empty())
    throw InputError("no value of " + series + " lies from " + part_value_text(low, key) + " to " +
                         part_value_text(high, key),
                     "widen the range, or end the move in :free");
  return choices;
}

std::vector<std::string> split_at(const std::string& text, char between) {
  std::vector<std::string> words;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find(between, at), text.size());
    words.emplace_back(trimmed(text.substr(at, end - at)));
    at = end + 1;
  }
  return words;
}

/// "R1=1-100", "R1,R2=1-1k:E96", "earphone.C1.farad=1uF-10uF:free".
Move parse_move(const std::string& text, const std::vector<TunableValue>& tunable,
                const TuneCommand& options) {
  const auto equals = text.rfind('=');
  const auto colon = equals == std::string::npos ? equals : text.find(':', equals);
  const auto range =
      equals == std::string::npos
          ? std::nullopt
          : split_range(
                text.substr(equals + 1, colon == std::string::npos ? colon : colon - equals - 1));
  if (!range)
    throw InputError("--move \"" + printable(text, 60) + "\" has no range",
                     "give NAME=LO-HI, such as --move R1=1-100");
  Move move;
  move.name = text.substr(0, equals);
  for (const auto& name : split_at(move.name, ','))
    move.values.push_back(tunable_value(tunable, name));
  const std::string key = move.values[0].key;
  for (const auto& value : move.values)
    if (value.key != key)
      throw InputError("--move \"" + printable(text, 60) + "\" gives one number to `" + key +
                           "` and `" + value.key + "`",
                       "move them apart");
  std::optional<std::string> own;
  if (colon != std::string::npos) own = text.substr(colon + 1);
  move.low = parse_part_value(range->first, key);
  move.high = parse_part_value(range->second, key);
  if (!(move.low < move.high))
    throw InputError("--move \"" + printable(text, 60) + "\" has no range",
                     "give the lower end first");
  move.choices = choices_of(options, own, key, move.low, move.high);
  return move;
}

void refuse_double_moves(const std::vector<Move>& moves) {
  std::vector<std::string> seen;
  for (const auto& move : moves)
    for (const auto& value : move.values) {
      const std::string name = value.part + "." + value.key;
      if (std::find(seen.begin(), seen.end(), name) != seen.end())
        throw InputError("\"" + printable(name, 60) + "\" moves twice", "name it once");
      seen.push_back(name);
    }
}

TuneOptions tune_options(const TuneCommand& options, const Session& session,
                         std::vector<std::string>& warnings) {
  TuneOptions how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  how.from = read_source(options.from);
  append_new(warnings, how.from.warnings);
  how.goal.minimise = options.minimise;
  for (const auto& limit : options.limits) how.goal.limits.push_back(parse_tune_limit(limit));
  how.front = options.front;
  if (options.target) {
    const TheveninSource target = read_source(*options.target);
    append_new(warnings, target.warnings);
    how.target = target.output;
  } else if (asks_for(how.goal, how.front, TuneAim::target)) {
    throw InputError("there is no target to come near", "name a curve or ohms: --target 16");
  }
  if (options.target_band) how.target_band = parse_band(*options.target_band, "--target-band");
  how.samples = options.samples;
  how.seed = options.seed;
  how.progress = progress_line(session, "tune");
  return how;
}

struct TuneSubject {
  Chain chain;
  Earphone earphone;
  std::vector<Move> moves;
  TuneOptions how;
};

constexpr TuneAim all_aims[] = {TuneAim::span,    TuneAim::target, TuneAim::lowest,   TuneAim::loss,
                                TuneAim::current, TuneAim::noise,  TuneAim::tolerance};

std::string aim_heading(TuneAim aim) {
  switch (aim) {
    case TuneAim::span:
      return "span of the deviation";
    case TuneAim::target:
      return "largest difference from the target";
    case TuneAim::lowest:
      return "lowest |Z| that the amplifier sees";
    case TuneAim::loss:
      return "loss";
    case TuneAim::current:
      return "largest current for 1 V";
    case TuneAim::noise:
      return "thermal noise, A-weighted";
    case TuneAim::tolerance:
      break;
  }
  return "span with tolerances (95 %)";
}

std::string aim_text(TuneAim aim, double value) {
  if (!std::isfinite(value)) return "-";
  switch (aim) {
    case TuneAim::lowest:
      return ohm_text(value);
    case TuneAim::current:
      return with_prefix(value, "A");
    case TuneAim::noise:
      return value > 0 ? with_prefix(value, "V") : "none";
    default:
      return db_text(value);
  }
}

/// "R1", and the key where the name does not say it.
std::string move_name(const Move& move) { return printable(move.name, 40); }

std::string setting_text(const Setting& setting, const std::string& key) {
  const std::string value = part_value_text(setting.value, key);
  return setting.ohm ? value + " (" + ohm_text(*setting.ohm) + ")" : value;
}

std::string choices_text(const Move& move) {
  const std::string& key = move.values[0].key;
  return part_value_text(move.low, key) + " to " + part_value_text(move.high, key) +
         (move.choices.empty() ? ", any" : fmt::format(", {} values", move.choices.size()));
}

std::string moves_table(const TuneSubject& subject, const Tuning& found) {
  Rows rows{{"value", "before", "tuned", "may be"}};
  for (std::size_t m = 0; m < subject.moves.size(); ++m) {
    const Move& move = subject.moves[m];
    const std::string& key = move.values[0].key;
    rows.push_back({move_name(move), part_value_text(move.values[0].value, key),
                    setting_text(found.settings[m], key), choices_text(move)});
  }
  return aligned(rows);
}

std::string limit_cell(const TuneGoal& goal, TuneAim aim) {
  for (const auto& limit : goal.limits)
    if (limit.aim == aim && limit.least)
      return aim_text(aim, *limit.least) + " to " + aim_text(aim, limit.value);
    else if (limit.aim == aim)
      return (aim == TuneAim::lowest ? "at least " : "at most ") + aim_text(aim, limit.value);
  return goal.minimise == aim ? (aim == TuneAim::lowest ? "highest" : "least") : "";
}

std::string aims_table(const TuneSubject& subject, const Tuning& found) {
  Rows rows{{"", "before", "tuned", "asked"}};
  for (const TuneAim aim : all_aims) {
    if (!std::isfinite(found.after[aim]) && !std::isfinite(found.before[aim])) continue;
    rows.push_back({aim_heading(aim), aim_text(aim, found.before[aim]),
                    aim_text(aim, found.after[aim]), limit_cell(subject.how.goal, aim)});
  }
  return aligned(rows);
}

/// How the values were found, and what that is worth.
std::string search_sentence(const Tuning& found) {
  if (found.complete)
    return fmt::format(
        "Every one of the {:.0f} combinations was judged or ruled out: none is better.\n",
        found.combinations);
  if (found.combinations > 0)
    return fmt::format(
        "There are {:.3g} combinations, too many to try each: they were sought jointly about the "
        "best free values, so a better one elsewhere is not ruled out.\n",
        found.combinations);
  return "Free values were sought from many starts; a better minimum elsewhere is not ruled out.\n";
}

/// Of many points, some spread evenly, both ends among them.
std::vector<std::size_t> shown_points(std::size_t count) {
  std::vector<std::size_t> shown;
  const std::size_t most = std::min(count, shown_front);
  for (std::size_t i = 0; i < most; ++i)
    shown.push_back(most == 1 ? 0 : (i * (count - 1) + (most - 1) / 2) / (most - 1));
  return shown;
}

std::string front_table(const TuneSubject& subject, const Tuning& found) {
  if (!subject.how.front || found.front.empty()) return "";
  Rows rows{{}};
  for (const auto& move : subject.moves) rows[0].push_back(move_name(move));
  rows[0].push_back(aim_heading(subject.how.goal.minimise));
  rows[0].push_back(aim_heading(*subject.how.front));
  for (const std::size_t i : shown_points(found.front.size())) {
    const TunePoint& point = found.front[i];
    rows.emplace_back();
    for (std::size_t m = 0; m < subject.moves.size(); ++m)
      rows.back().push_back(setting_text(point.settings[m], subject.moves[m].values[0].key));
    rows.back().push_back(aim_text(subject.how.goal.minimise, point.minimised));
    rows.back().push_back(aim_text(*subject.how.front, point.traded));
  }
  const std::string all =
      found.front.size() > rows.size() - 1
          ? fmt::format(" ({} of {} points; --csv has all)", rows.size() - 1, found.front.size())
          : "";
  return "\nThe choice between the two aims" + all + ":\n" + aligned(rows);
}

std::string limits_sentence(const TuneSubject& subject, const Tuning& found) {
  std::string text;
  for (const auto& limit : subject.how.goal.limits) {
    const double value = found.after[limit.aim];
    const bool under = limit.least && value < *limit.least - 1e-6;
    if (!under && !(cost_of(limit.aim, value) > cost_of(limit.aim, limit.value) + 1e-6)) continue;
    text += fmt::format("{}: {} is beyond the limit of {}.\n", aim_heading(limit.aim),
                        aim_text(limit.aim, value),
                        aim_text(limit.aim, under ? *limit.least : limit.value));
  }
  if (text.empty() || found.within_limits) return text;
  return "No values keep the limits; these exceed them least.\n" + text;
}

std::string tuned_text(const TuneSubject& subject, const Tuning& found) {
  return fmt::format("{} behind {}, against {}\n\n", printable(subject.earphone.title),
                     printable(subject.chain.title()), printable(subject.how.from.label)) +
         moves_table(subject, found) + "\n" + aims_table(subject, found) +
         limits_sentence(subject, found) + search_sentence(found) + front_table(subject, found);
}

const char* json_key(TuneAim aim) {
  switch (aim) {
    case TuneAim::span:
      return "span_db";
    case TuneAim::target:
      return "target_db";
    case TuneAim::lowest:
      return "lowest_ohm";
    case TuneAim::loss:
      return "loss_db";
    case TuneAim::current:
      return "current_ampere_per_volt";
    case TuneAim::noise:
      return "noise_volt";
    case TuneAim::tolerance:
      break;
  }
  return "tolerance_p95_db";
}

Json figures_json(const TuneFigures& figures) {
  Json json = Json::object();
  for (const TuneAim aim : all_aims) json[json_key(aim)] = json_number(figures[aim]);
  return json;
}

Json moves_json(const TuneSubject& subject, const Tuning& found) {
  Json all = Json::array();
  for (std::size_t m = 0; m < subject.moves.size(); ++m) {
    const Move& move = subject.moves[m];
    Json names = Json::array();
    for (const auto& value : move.values) names.push_back(valid_utf8(value.part));
    all.push_back({{"name", valid_utf8(move.name)},
                   {"parts", names},
                   {"key", move.values[0].key},
                   {"before", move.values[0].value},
                   {"value", found.settings[m].value},
                   {"winding_ohm", json_number(found.settings[m].ohm)},
                   {"low", move.low},
                   {"high", move.high},
                   {"choices", move.choices.size()}});
  }
  return all;
}

Json front_json(const TuneSubject& subject, const Tuning& found) {
  if (!subject.how.front) return nullptr;
  Json all = Json::array();
  for (const auto& point : found.front) {
    Json values = Json::array();
    for (const auto& setting : point.settings) values.push_back(setting.value);
    Json one{{"values", values}};
    one[json_key(subject.how.goal.minimise)] = json_number(point.minimised);
    one[json_key(*subject.how.front)] = json_number(point.traded);
    all.push_back(one);
  }
  return all;
}

Json tuned_json(const TuneSubject& subject, const Tuning& found) {
  Json limits = Json::array();
  for (const auto& limit : subject.how.goal.limits)
    limits.push_back({{"aim", json_key(limit.aim)},
                      {"least", json_number(limit.least)},
                      {"value", limit.value}});
  return {
      {"earphone", valid_utf8(subject.earphone.title)},
      {"source", valid_utf8(subject.chain.title())},
      {"from", valid_utf8(subject.how.from.label)},
      {"minimise", json_key(subject.how.goal.minimise)},
      {"limits", limits},
      {"within_limits", found.within_limits},
      {"complete", found.complete},
      {"combinations", found.combinations > 0 ? Json(found.combinations) : Json(nullptr)},
      {"moves", moves_json(subject, found)},
      {"before", figures_json(found.before)},
      {"after", figures_json(found.after)},
      {"front", front_json(subject, found)},
      {"frequency_hz", json_array(found.hz)},
      {"deviation_before_db", json_array(found.before.deviation_db)},
      {"deviation_after_db", json_array(found.after.deviation_db)},
      {"input_before_ohm", json_array(found.before.input_ohm)},
      {"input_after_ohm", json_array(found.after.input_ohm)},
      {"target_ohm", found.target_ohm.size() > 0 ? json_array(found.target_ohm) : Json(nullptr)}};
}

CsvTable front_csv(const TuneSubject& subject, const Tuning& found) {
  const auto points = static_cast<Eigen::Index>(found.front.size());
  const auto column = [&](const auto& value_of_point) {
    Array values(points);
    for (Eigen::Index i = 0; i < points; ++i)
      values[i] = value_of_point(found.front[static_cast<std::size_t>(i)]);
    return values;
  };
  CsvTable table;
  for (std::size_t m = 0; m < subject.moves.size(); ++m)
    table.add(printable(subject.moves[m].name, 60) + "_" + subject.moves[m].values[0].key,
              column([m](const TunePoint& point) { return point.settings[m].value; }));
  table.add(json_key(subject.how.goal.minimise),
            column([](const TunePoint& point) { return point.minimised; }));
  table.add(json_key(*subject.how.front),
            column([](const TunePoint& point) { return point.traded; }));
  return table;
}

CsvTable tuned_csv(const TuneSubject& subject, const Tuning& found) {
  if (subject.how.front) return front_csv(subject, found);
  CsvTable table;
  table.add("frequency_hz", found.hz);
  table.add("deviation_before_db", found.before.deviation_db);
  table.add("deviation_after_db", found.after.deviation_db);
  table.add("input_before_ohm", found.before.input_ohm);
  table.add("input_after_ohm", found.after.input_ohm);
  return table;
}

std::string axis_text(TuneAim aim) {
  switch (aim) {
    case TuneAim::lowest:
      return "Lowest |Z| that the amplifier sees, ohm";
    case TuneAim::current:
      return "Largest current for 1 V, mA";
    case TuneAim::noise:
      return "Thermal noise, A-weighted, uV";
    case TuneAim::loss:
      return "Loss, dB";
    case TuneAim::target:
      return "Largest difference from the target, dB";
    case TuneAim::tolerance:
      return "Span with tolerances (95 %), dB";
    default:
      return "Span of the deviation, dB";
  }
}

/// In the unit of axis_text.
double on_axis(TuneAim aim, double value) {
  return aim == TuneAim::current ? 1e3 * value : aim == TuneAim::noise ? 1e6 * value : value;
}

std::string settings_line(const TuneSubject& subject, const Tuning& found) {
  std::string line;
  for (std::size_t m = 0; m < subject.moves.size(); ++m)
    line += (m > 0 ? ", " : "") + short_name(subject.moves[m].name, 20) + " " +
            part_value_text(found.settings[m].value, subject.moves[m].values[0].key);
  return line;
}

plots::TuneFigure tuned_figure(const TuneSubject& subject, const Tuning& found) {
  plots::TuneFigure figure;
  const TuneAim aim = subject.how.goal.minimise;
  figure.conclusion =
      fmt::format("{}: {} instead of {}", aim_heading(aim), aim_text(aim, found.after[aim]),
                  aim_text(aim, found.before[aim]));
  if (!figure.conclusion.empty())
    figure.conclusion[0] = static_cast<char>(std::toupper(figure.conclusion[0]));
  figure.earphone_title = subtitle(subject.chain.short_name(), subject.earphone.title);
  figure.caption = "Tuned: " + settings_line(subject, found);
  figure.from_label = short_name(subject.how.from.short_name(), 24);
  figure.frequency_hz = found.hz;
  figure.before_db = found.before.deviation_db;
  figure.after_db = found.after.deviation_db;
  figure.before_ohm = found.before.input_ohm;
  figure.after_ohm = found.after.input_ohm;
  figure.target_ohm = found.target_ohm;
  if (!subject.how.front) return figure;
  const auto points = static_cast<Eigen::Index>(found.front.size());
  figure.minimised.resize(points);
  figure.traded.resize(points);
  for (Eigen::Index i = 0; i < points; ++i) {
    const TunePoint& point = found.front[static_cast<std::size_t>(i)];
    figure.minimised[i] = on_axis(aim, point.minimised);
    figure.traded[i] = on_axis(*subject.how.front, point.traded);
  }
  figure.minimised_label = axis_text(aim);
  figure.traded_label = axis_text(*subject.how.front);
  figure.chosen_traded = on_axis(*subject.how.front, found.after[*subject.how.front]);
  return figure;
}

namespace fs = std::filesystem;

Circuit moved_to(const Circuit& circuit, const fs::path& folder) {
  CircuitDraft draft = circuit.draft();
  const fs::path from = fs::path(draft.file).parent_path();
  for (auto& part : draft.parts) part.curve_file = moved_file(part.curve_file, from, folder);
  return Circuit(std::move(draft));
}

bool moves_in(const TuneSubject& subject, std::optional<std::size_t> stage) {
  for (const auto& move : subject.moves)
    for (const auto& value : move.values)
      if (value.stage == stage) return true;
  return false;
}

/// "amp.chain.toml" with "stage-2" is "amp.stage-2.circuit.toml".
std::string beside(const std::string& file, const std::string& what) {
  const std::string end = ".chain.toml";
  return (file.ends_with(end) ? file.substr(0, file.size() - end.size()) : file) + "." + what +
         ".circuit.toml";
}

void write_chain(const std::string& file, const TuneSubject& subject, const Tuning& found,
                 Answer& result) {
  const fs::path folder = fs::path(file).parent_path();
  const Chain chain = moved_chain(found.tuned.chain, file);
  std::vector<Stage> stages = chain.stages();
  for (std::size_t i = 0; i < stages.size(); ++i) {
    auto* circuit = std::get_if<CircuitStage>(&stages[i]);
    if (!circuit || !moves_in(subject, i)) continue;
    const std::string place = beside(file, "stage-" + std::to_string(i + 1));
    result.documents.emplace_back(place, circuit_text(moved_to(*circuit->circuit, folder)));
    circuit->file = fs::path(place).filename().string();
  }
  result.documents.emplace_back(file, chain_text(chain.with_stages(std::move(stages))));
}

void write_circuit(const std::string& file, const Circuit& circuit, Answer& result) {
  result.documents.emplace_back(file,
                                circuit_text(moved_to(circuit, fs::path(file).parent_path())));
}

/// A chain with what it needs, or the one circuit that moved.
void write_tuned(const TuneCommand& options, const TuneSubject& subject, const Tuning& found,
                 Answer& result) {
  if (!options.write) return;
  const bool earphone_moves = moves_in(subject, std::nullopt);
  if (options.write->ends_with(".chain.toml")) {
    write_chain(*options.write, subject, found, result);
    if (earphone_moves)
      write_circuit(beside(*options.write, "earphone"), *found.tuned.earphone.circuit, result);
    return;
  }
  std::vector<Circuit> moved;
  if (earphone_moves) moved.push_back(*found.tuned.earphone.circuit);
  bool others = false;
  const auto& stages = found.tuned.chain.stages();
  for (std::size_t i = 0; i < stages.size(); ++i) {
    if (!moves_in(subject, i)) continue;
    const auto* circuit = std::get_if<CircuitStage>(&stages[i]);
    if (circuit)
      moved.push_back(*circuit->circuit);
    else
      others = true;
  }
  if (!options.write->ends_with(".circuit.toml") || moved.size() != 1 || others)
    throw InputError("--write " + printable(*options.write) + " cannot hold what moved",
                     "end it in .chain.toml for the chain with all its circuits, or in "
                     ".circuit.toml where one circuit alone moves");
  write_circuit(*options.write, moved[0], result);
}

/// What stands between amplifier and earphone, and the earphone's own circuit where it has one.
std::vector<ListedPart> bought(const Tuning& found) {
  std::vector<ListedPart> parts;
  if (!found.tuned.chain.stages().empty()) parts = listed_parts(stages_between(found.tuned.chain));
  if (!found.tuned.earphone.circuit) return parts;
  for (auto& part : listed_parts(*found.tuned.earphone.circuit)) parts.push_back(std::move(part));
  return parts;
}

Answer answer(const TuneCommand& options, const Session& session) {
  Answer result;
  refuse_stock_and_series(options.stock.has_value(), options.series.has_value());
  const Chain chain = read_warned_chain(options.source, result.warnings);
  const Earphone earphone = read_earphone(options.earphone);
  append_new(result.warnings, earphone.warnings);
  const auto subject = std::make_shared<TuneSubject>(
      TuneSubject{chain, earphone, {}, tune_options(options, session, result.warnings)});
  const auto tunable = tunable_values(chain, earphone);
  for (const auto& move : options.moves)
    subject->moves.push_back(parse_move(move, tunable, options));
  refuse_double_moves(subject->moves);
  add_bias_cautions(result, {thevenin_source(chain)}, earphone);
  const auto found =
      std::make_shared<const Tuning>(tune({chain, earphone}, subject->moves, subject->how));
  result.text = tuned_text(*subject, *found);
  result.json = tuned_json(*subject, *found);
  result.csv = tuned_csv(*subject, *found);
  result.limit_exceeded = !limits_sentence(*subject, *found).empty();
  write_tuned(options, *subject, *found, result);
  if (options.parts) result.documents.emplace_back(*options.parts, parts_csv(bought(*found)));
  result.draw = [subject, found](const plots::Output& output) {
    plots::draw(tuned_figure(*subject, *found), output);
  };
  return result;
}

/// Each aim under its name.
template <class Aim>
std::vector<std::pair<std::string, Aim>> aim_choices() {
  std::vector<std::pair<std::string, Aim>> choices;
  for (const TuneAim aim : all_aims) choices.emplace_back(to_string(aim), aim);
  return choices;
}

void add_aim_options(Command& command, TuneCommand& options) {
  command.add_choice("--minimise", options.minimise, aim_choices<TuneAim>(),
                     "what is wanted least; of lowest (|Z| that the amplifier sees) the most");
  command
      .add_option(
          "--limit", options.limits,
          "an aim that is kept within: span, target, loss or tolerance in dB, lowest in ohm "
          "(at least), current in mA for 1 V, noise in uV; may be repeated; exit status 1 "
          "when none keeps it")
      ->type_name("AIM=VALUE");
  command.add_choice(
      "--front", options.front, aim_choices<std::optional<TuneAim>>(),
      "a second aim: also list the values that trade one for the other, none better in both");
  command
      .add_option("--target", options.target,
                  "the |Z| wanted: ohm or a curve, for the aim target (largest difference in dB)")
      ->type_name("SOURCE");
  command.add_option("--target-band", options.target_band, "where it counts, in Hz [the band]")
      ->type_name("LO-HI");
}

void add_value_options(Command& command, TuneCommand& options) {
  command
      .add_option("--move", options.moves,
                  "a value that may move and its range: a part's name (R1; R1,R2 for one number to "
                  "both; L1.series_ohm for one of several keys), LO-HI (8.2, 4R7, 100uH, "
                  "4.7uF), and after a colon a series or free; repeated for each")
      ->type_name("NAME=LO-HI[:E24|:free]")
      ->required();
  add_stock_options(command, options.series, options.stock);
  command.add_flag("--free", options.free, "any number within the ranges");
}

}  // namespace

void add_tune(Command& program, Session& session) {
  auto options = std::make_shared<TuneCommand>();
  Command& command = *program.add_subcommand(
      "tune", "Values of a network's parts that serve an aim best, within limits");
  command.footer(
      "Example:  ohmtilt tune impedance-curves/two-way-armature.csv "
      "impedance-curves/bench/network-across.chain.toml --move R1=1-1k --move L1=1uH-10mH "
      "--limit lowest=5 --front lowest --plot tune.svg\n"
      "Pads, series stages, transformers and circuits of the chain may move, and the parts of an "
      "earphone that is a circuit. A coil keeps the ratio of its ohms to its inductance unless the "
      "stock list says its ohms. All combinations are tried up to 300000 of them; beyond that they "
      "are sought jointly about the best free values, which may miss a better one elsewhere.");
  add_earphone_argument(command, options->earphone);
  command
      .add_option("source", options->source,
                  "what the earphone is behind: chain file, or ohm where its own parts move")
      ->type_name("SOURCE")
      ->required();
  add_value_options(command, *options);
  add_aim_options(command, *options);
  add_from_option(command, options->from, "the source that deviations are from");
  add_grid_options(command, options->grid);
  add_samples_option(command, options->samples, "random draws of the tolerances");
  add_seed_option(command, options->seed);
  command
      .add_option("--write", options->write,
                  "write the tuned chain (.chain.toml, with each circuit that moved beside it), or "
                  "the one circuit that moved (.circuit.toml)")
      ->type_name("FILE");
  add_parts_option(command, options->parts);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "tune", [&] { return answer(*options, session); });
  });
}

}  // namespace ohmtilt::cli
