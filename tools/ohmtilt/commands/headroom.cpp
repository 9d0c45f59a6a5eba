// ohmtilt headroom: how loud a source can play an earphone, and what limits it.
#include <fmt/format.h>

#include <ohmtilt/analysis/level/travel_curve.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/commands/headroom.h>
#include <tools/ohmtilt/program/chain_input.h>
#include <tools/ohmtilt/program/command.h>
#include <tools/ohmtilt/program/help_text.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

struct HeadroomCommand {
  ChainFiles files;
  HeadroomOptions how;
  std::optional<double> limit_db;  // exit 1 below it
  GridOptions grid;
  OutputOptions output;
};

// ---- the answer as JSON ------------------------------------------------------------------------

Json limits_json(const LargestLevel& largest) {
  Json by = Json::array();
  for (const Limit limit : largest.limited_by) by.push_back(to_string(limit));
  return {{"frequency_hz", json_array(largest.hz)},
          {"spl_db", json_array(largest.spl_db)},
          {"limited_by", by}};
}

Json target_json(const TargetNeeds& target) {
  return {{"spl_db", target.spl_db},
          {"level_dba", target.level_dba},
          {"volt", target.volt},
          {"ampere", target.ampere},
          {"milliwatt", target.watt * 1000},
          {"headroom_db", target.headroom_db}};
}

Json gain_json(const std::vector<GainPosition>& positions) {
  Json list = Json::array();
  for (const auto& p : positions)
    list.push_back({{"gain_db", p.gain_db},
                    {"travel_percent", json_number(p.travel_percent)},
                    {"clip_travel_percent_unloaded", json_number(p.clip_open_percent)},
                    {"clip_travel_percent_loaded", json_number(p.clip_loaded_percent)},
                    {"imbalance_db", p.imbalance ? json_number(p.imbalance->db) : Json(nullptr)}});
  return list;
}

Json duration_json(const PowerPoint& point) {
  return point.duration_ms == continuous_ms ? Json("continuous") : json_number(point.duration_ms);
}

Json contradiction_json(const std::optional<Contradiction>& found) {
  if (!found) return nullptr;
  return {{"points", found->breaking}, {"error_db", found->error_db}};
}

Json point_json(const JudgedPoint& point) {
  return {{"load_ohm", point.claim.load_ohm},          {"watt", point.claim.watt},
          {"duration_ms", duration_json(point.claim)}, {"limited_by", to_string(point.limited_by)},
          {"predicted_watt", point.predicted_watt},    {"comparable", point.comparable}};
}

Json power_json(const std::optional<PowerClaims>& power) {
  if (!power) return nullptr;
  Json points = Json::array();
  for (const auto& point : power->points) points.push_back(point_json(point));
  return {{"open_volt", power->limits.open_volt},
          {"output_ohm", power->limits.output_ohm},
          {"max_ampere", json_number(power->limits.max_ampere)},
          {"points", points},
          {"contradiction", contradiction_json(power->contradiction)}};
}

Json found_json(const HeadroomFound& found) {
  const Headroom& headroom = found.result;
  Json json{
      {"limits", limits_json(headroom.largest)},
      {"target", target_json(headroom.target)},
      {"gain", gain_json(headroom.gain)},
      {"gain_without_pad",
       headroom.gain_without_pad.empty() ? Json(nullptr) : gain_json(headroom.gain_without_pad)},
      {"power", power_json(headroom.power)},
      {"niosh_minutes_a_day", headroom.niosh_minutes_a_day}};
  if (!found.against) return json;
  const auto same =
      at_same_position(found.input.chain, headroom, *found.input.against, *found.against);
  json["against"] = {{"headroom_db", found.against->target.headroom_db},
                     {"travel_percent", same ? Json(same->travel_percent) : Json(nullptr)},
                     {"spl_db", same ? Json(same->level_db) : Json(nullptr)},
                     {"against_spl_db", same ? Json(same->against_level_db) : Json(nullptr)}};
  return json;
}

// ---- the answer as text ------------------------------------------------------------------------

/// With the prefix that leaves digits before the point: "84.8 mV", "2.69 nW".
std::string with_small_prefix(double value, const char* unit) {
  constexpr std::array<const char*, 6> prefixes{"", "m", "u", "n", "p", "f"};
  std::size_t step = 0;
  while (value > 0 && value < 0.9995 && step + 1 < prefixes.size()) {
    value *= 1000;
    ++step;
  }
  return significant(value) + " " + (value > 0 ? prefixes.at(step) : "") + unit;
}
std::string volt_text(double volt) { return with_small_prefix(volt, "V"); }
std::string ampere_text(double ampere) { return with_small_prefix(ampere, "A"); }
std::string watt_text(double watt) { return with_small_prefix(watt, "W"); }
std::string spl_text(double db) { return fmt::format("{:.1f} dB SPL", db); }
/// A level that is reached, never more than it.
std::string reached_text(double db) { return fmt::format("{:.1f}", std::floor(db * 10) / 10); }
/// "+9 dB", "0 dB".
std::string gain_text(double db) { return db == 0 ? "0 dB" : fmt::format("{:+g} dB", db); }

/// "voltage from 20 Hz to 4.1 kHz, current above": the stretches in order.
std::string stretches_text(const LargestLevel& largest) {
  std::vector<std::string> words;
  const auto count = largest.limited_by.size();
  for (std::size_t begin = 0, i = 1; i <= count; ++i) {
    if (i < count && largest.limited_by[i] == largest.limited_by[begin]) continue;
    words.push_back(fmt::format("{} from {} to {}", to_string(largest.limited_by[begin]),
                                hz_text(largest.hz[static_cast<Eigen::Index>(begin)]),
                                hz_text(largest.hz[static_cast<Eigen::Index>(i - 1)])));
    begin = i;
  }
  if (words.size() > 6) {
    words.resize(5);
    words.emplace_back("so on");
  }
  return listed(words);
}

std::string limited_by_text(Limit limit) {
  if (limit == Limit::voltage) return "limited by the amplifier's voltage";
  return limit == Limit::current ? "limited by the amplifier's current"
                                 : "limited by the earphone's power rating";
}

}  // namespace

std::string conclusion(const TargetNeeds& target) {
  const std::string peaks = "the peaks of " + number_text(target.spl_db) + " dB programme";
  const std::string by = limited_by_text(target.limited_by);
  if (target.headroom_db >= 0)
    return fmt::format("Headroom: {} dB above {}, {}", significant_down(target.headroom_db), peaks,
                       by);
  return fmt::format("Headroom: {} dB short of {}, which reaches {} dB, {}",
                     significant_up(-target.headroom_db), peaks,
                     reached_text(target.spl_db + target.headroom_db), by);
}

namespace {

std::string sensitivity_text(const BothSensitivities& both) {
  constexpr const char* names[] = {"stated", "rated", "there"};
  return fmt::format("{:.1f} dB at 1 V, {:.1f} dB at 1 mW ({} {}, at {})", both.db_per_volt,
                     both.db_per_milliwatt, ohm_text(both.ohm),
                     names[static_cast<std::size_t>(both.milliwatt_of)], hz_text(both.hz));
}

}  // namespace

Rows target_rows(const HeadroomFound& found) {
  const TargetNeeds& t = found.result.target;
  const LargestLevel& largest = found.result.largest;
  Eigen::Index softest = 0;
  const double least = largest.spl_db.minCoeff(&softest);
  Rows rows;
  rows.push_back({"sensitivity", sensitivity_text(found.result.sensitivity)});
  rows.push_back({"needed at the earphone", fmt::format("{}, {}, {}", volt_text(t.volt),
                                                        ampere_text(t.ampere), watt_text(t.watt))});
  rows.push_back({"needed of the amplifier", fmt::format("{} unloaded, {}", volt_text(t.emf_volt),
                                                         ampere_text(t.source_ampere))});
  const auto& fitted = found.result.limits.fitted;
  if (fitted && t.clip_volt < found.result.limits.open_volt)
    rows.push_back({"  behind the " + ohm_text(fitted->output_ohm) + " of its power points",
                    volt_text(fitted->open_volt * t.emf_volt / t.clip_volt) + " unloaded"});
  rows.push_back(
      {"largest clean programme peaks", spl_text(t.spl_db + found.how.crest_db + t.headroom_db)});
  rows.push_back({"weakest frequency, largest tone",
                  fmt::format("{} at {}", spl_text(least), hz_text(largest.hz[softest]))});
  rows.push_back({"a tone is limited by", stretches_text(largest)});
  if (!found.input.earphone.max_watt)
    rows.push_back(
        {"the earphone's power rating", "not known: the amplifier's limits alone count"});
  return rows;
}

namespace {

std::string target_text(const HeadroomFound& found) {
  std::string text;
  for (const auto& row : target_rows(found)) text += fmt::format("  {:<31}  {}\n", row[0], row[1]);
  return text;
}

std::string imbalance_text(const GainPosition& p) {
  if (!p.imbalance) return "-";
  return fmt::format("{:.1f} dB{}", p.imbalance->db, p.imbalance->measured ? "" : " *");
}

}  // namespace

Rows gain_rows(const VolumeLaw& law, const std::vector<GainPosition>& positions) {
  const auto percent_text = [&law](const std::optional<double>& percent) -> std::string {
    if (std::holds_alternative<DecibelSteps>(law)) return "-";  // has no travel
    return percent ? fmt::format("{:.1f} %", *percent) : "not reached";
  };
  Rows rows{{"gain", "control at", "travel", "clips unloaded at", "clips loaded at",
             "current limit at", "channel imbalance"}};
  for (const auto& p : positions)
    rows.push_back({gain_text(p.gain_db), fmt::format("{:.1f} dB", p.control_db),
                    percent_text(p.travel_percent), percent_text(p.clip_open_percent),
                    percent_text(p.clip_loaded_percent), percent_text(p.trip_percent),
                    imbalance_text(p)});
  return rows;
}

namespace {

/// Where the target is at one gain step of a control in steps.
std::string step_text(const DecibelSteps& steps, const GainPosition& p) {
  const std::string at = " at " + gain_text(p.gain_db) + " gain";
  if (p.control_db > 0) return "not reached" + at;
  return fmt::format("{:.0f} steps of {} dB down", -p.control_db / steps.step_db,
                     number_text(steps.step_db)) +
         at;
}

std::string steps_text(const HeadroomFound& found) {
  const auto* steps = std::get_if<DecibelSteps>(&*found.input.chain.source().volume);
  if (steps == nullptr) return "";
  std::vector<std::string> words;
  for (const auto& p : found.result.gain) words.push_back(step_text(*steps, p));
  return "A control in steps has no travel; the target is " + listed(words) + ".\n";
}

/// Of the travel, before the amplifier clips.
std::string usable_text(const GainPosition& p) {
  const std::string at = "at " + gain_text(p.gain_db) + " gain ";
  const double percent = p.clip_loaded_percent.value_or(100);
  if (percent >= 100) return at + "all of the travel is usable";
  return at + significant_down(percent, 3) + " % of the travel is usable";
}

}  // namespace

const char* imbalance_weight(double imbalance_db) {
  if (imbalance_db < 1) return "probably inaudible";
  return imbalance_db < 2 ? "a slight shift of the stereo image" : "audible as a shift to one side";
}

namespace {

/// Of the first gain step, where the target is on its travel.
std::string imbalance_sentence(const Headroom& headroom) {
  const auto& imbalance = headroom.gain.front().imbalance;
  if (!imbalance) return "";
  return fmt::format("channel imbalance at the target, {} gain: {:.1f} dB, {}",
                     gain_text(headroom.gain.front().gain_db), imbalance->db,
                     imbalance_weight(imbalance->db));
}

}  // namespace

std::vector<std::string> gain_notes(const Headroom& headroom) {
  std::vector<std::string> notes;
  if (headroom.gain.empty()) return notes;
  append_new(notes, {imbalance_sentence(headroom)});
  std::erase(notes, "");
  const auto usual = [](const GainPosition& p) { return p.imbalance && !p.imbalance->measured; };
  if (std::any_of(headroom.gain.begin(), headroom.gain.end(), usual))
    notes.emplace_back("* of a usual potentiometer: common practice, not measured on this one");
  for (const auto& p : headroom.gain)
    if (p.travel_percent) notes.push_back(usable_text(p));
  return notes;
}

namespace {

std::string volume_text(const HeadroomFound& found) {
  const Headroom& headroom = found.result;
  if (headroom.gain.empty()) return "";
  const VolumeLaw& law = *found.input.chain.source().volume;
  std::string text = "\nVolume control at the target (peaks of the programme at full scale)\n" +
                     aligned(gain_rows(law, headroom.gain)) + steps_text(found);
  if (!headroom.gain_without_pad.empty())
    text += "Without the pad (the control is set lower)\n" +
            aligned(gain_rows(law, headroom.gain_without_pad));
  for (const auto& note : gain_notes(headroom)) text += "  " + note + "\n";
  return text;
}

}  // namespace

std::string power_conclusion(const PowerClaims& power) {
  std::vector<std::string> limits{
      volt_text(power.limits.open_volt) + " unloaded",
      ohm_text(power.limits.output_ohm) + (power.output_fitted ? "" : " (as stated)")};
  if (power.limits.max_ampere) limits.push_back(ampere_text(*power.limits.max_ampere));
  return fmt::format("the figures taken {} fit {}{}{}", power.conditions, listed(limits),
                     power.limits.max_ampere ? "" : "; none shows a current limit",
                     power.contradiction ? ", but they contradict one another" : "");
}

namespace {

std::string duration_text(const PowerPoint& point) {
  if (!point.duration_ms) return "not stated";
  return point.duration_ms == continuous_ms ? "continuous"
                                            : number_text(*point.duration_ms) + " ms";
}

}  // namespace

Rows power_rows(const PowerClaims& power) {
  Rows rows{{"load", "claimed", "by the limits", "limited by", "ranked", "duration", "distortion"}};
  for (const auto& point : power.points)
    rows.push_back({ohm_text(point.claim.load_ohm), watt_text(point.claim.watt),
                    watt_text(point.predicted_watt), to_string(point.limited_by),
                    point.comparable ? "yes" : "no", duration_text(point.claim),
                    point.claim.distortion_percent
                        ? number_text(*point.claim.distortion_percent) + " %"
                        : "not stated"});
  return rows;
}

std::vector<std::string> power_notes(const PowerClaims& power) {
  std::vector<std::string> notes;
  for (const auto& point : power.points)
    if (point.burst_gain_db)
      notes.push_back(fmt::format("The {} ms burst into {} exceeds the continuous figure by {}.",
                                  number_text(*point.claim.duration_ms),
                                  ohm_text(point.claim.load_ohm), db_text(*point.burst_gain_db)));
  notes.emplace_back(
      "Another load follows from these limits only: so half the load is not twice the power.");
  notes.emplace_back(
      "Continuous at 1 % distortion, and bursts of 20 ms, are common practice (no source).");
  return notes;
}

namespace {

std::string power_text(const std::optional<PowerClaims>& power) {
  if (!power) return "";
  std::string text = "\nPower: " + power_conclusion(*power) + "\n" + aligned(power_rows(*power));
  for (const auto& note : power_notes(*power)) text += "  " + note + "\n";
  return text;
}

std::string same_position_text(const HeadroomFound& found) {
  if (!found.against) return "";
  const Headroom& other = *found.against;
  const std::string a = printable(found.input.chain.title());
  const std::string b = printable(found.input.against->title());
  std::string text = fmt::format("\nAgainst {}: {}.\n", b, conclusion(other.target));
  const auto same = at_same_position(found.input.chain, found.result, *found.input.against, other);
  if (!same)
    return text + "  Both need input_volt and a control with travel for the same setting.\n";
  const bool louder = same->level_db >= same->against_level_db;
  const bool stronger = same->largest_db >= same->against_largest_db;
  const bool both_end_by_earphone = found.result.target.limited_by == Limit::earphone &&
                                    other.target.limited_by == Limit::earphone;
  const std::string strength =
      both_end_by_earphone
          ? "Neither is stronger: the earphone's power rating limits both."
          : fmt::format("Stronger, with the larger clean level: {} (limits).{}", stronger ? a : b,
                        louder == stronger ? "" : " Louder is not stronger here.");
  return text +
         fmt::format(
             "  At the same {:.1f} % of travel, first gain step: {} and {}.\n  Louder there: "
             "{} (gain). {}\n",
             same->travel_percent, spl_text(same->level_db), spl_text(same->against_level_db),
             louder ? a : b, strength);
}

/// Both limits in one unit, rounded down to two digits: "the NIOSH (1998) limit is about 11 hours a
/// day; WHO/ITU-T H.870 (adults): about 17 hours a week".
std::string listening_text(double level_dba) {
  constexpr double day = 24 * 60, week = 7 * day;
  const double daily = niosh_minutes_at(level_dba);
  const double weekly = weekly_hours_at(level_dba) * 60;
  if (weekly >= week)
    return "neither the NIOSH (1998) limit nor that of WHO/ITU-T H.870 is reached";
  if (daily < 1)
    return fmt::format("no listening time at all: {:.0f} dB(A) is beyond any use", level_dba);
  const bool hours = std::min(daily, weekly) >= 120;
  const auto time = [&](double minutes) {
    return "about " + significant_down(hours ? minutes / 60 : minutes) +
           (hours ? " hours" : " minutes");
  };
  const std::string a_week = "WHO/ITU-T H.870 (adults): " + time(weekly) + " a week";
  if (daily >= day) return "the NIOSH (1998) limit is not reached in a day; " + a_week;
  return "the NIOSH (1998) limit is " + time(daily) + " a day; " + a_week;
}

}  // namespace

std::string headroom_text(double headroom_db) {
  return headroom_db >= 0 ? significant_down(headroom_db) + " dB"
                          : significant_up(-headroom_db) + " dB short";
}

std::string hearing_text(const Headroom& headroom) {
  const double level = headroom.target.level_dba;
  return fmt::format(
      "Hearing: at {:.1f} dB(A) {}. The level is predicted in the ear, where it is usually higher "
      "than in the room that these limits are for: this errs to the safe side (common practice, "
      "no source).",
      level, listening_text(level));
}

std::string player_text(const Headroom& headroom) {
  return fmt::format(
      "For context, EN 50332-2 lets a portable player give {} into {} (this source with its "
      "stages: {}).",
      volt_text(player_limit_volt), ohm_text(player_limit_load_ohm),
      volt_text(headroom.player_volt));
}

std::string needed_volt_text(const Headroom& headroom) {
  const double volt = amplitude_from_db(earphone_least_volt_db - headroom.sensitivity.db_per_volt);
  return fmt::format("It requires at least {} for {} dB of an earphone (here: {}).",
                     volt_text(earphone_least_volt), number_text(earphone_least_volt_db),
                     volt_text(volt));
}

namespace {

std::string found_text(const HeadroomFound& found) {
  return fmt::format("{} behind {}\n{}.\n\n", printable(found.input.earphone.title),
                     printable(found.input.chain.title()), conclusion(found.result.target)) +
         target_text(found) + volume_text(found) + power_text(found.result.power) +
         same_position_text(found) + "\n" +
         wrapped(hearing_text(found.result) + " " + player_text(found.result) + " " +
                     needed_volt_text(found.result),
                 96, "") +
         "\n";
}

// ---- files and figure --------------------------------------------------------------------------

CsvTable found_csv(const HeadroomFound& found) {
  CsvTable table;
  const LargestLevel& largest = found.result.largest;
  table.add("frequency_hz", largest.hz);
  table.add("spl_db", largest.spl_db);
  table.add("emf_volt", largest.emf_volt);
  return table;
}

}  // namespace

namespace {

constexpr double shown_below_target_db = 45, shown_above_target_db = 25;

/// Travel over the level of programme, up to the first limit.
plots::TravelCurve travel_curve(const std::string& label, const Chain& chain,
                                const GainPosition& position, const TargetNeeds& target) {
  const Array level = Array::LinSpaced(281, target.spl_db - shown_below_target_db,
                                       target.spl_db + shown_above_target_db);
  const Array travel = travel_over_level(*chain.source().volume, position, target.spl_db, level);
  return {label, level, (level > target.spl_db + target.headroom_db).select(NAN, travel)};
}

bool has_travel(const Chain& chain, const std::vector<GainPosition>& gain) {
  return !gain.empty() && !std::holds_alternative<DecibelSteps>(*chain.source().volume);
}

void show_imbalance(const VolumeLaw& law, plots::HeadroomFigure& figure) {
  for (const double over_db : {1.0, 2.0})
    for (const auto& part : imbalanced_travel(law, over_db))
      figure.imbalance.push_back({part.low_percent, part.high_percent, over_db});
}

void show_travel(const HeadroomFound& found, plots::HeadroomFigure& figure) {
  const Chain& chain = found.input.chain;
  const Headroom& headroom = found.result;
  if (!has_travel(chain, headroom.gain)) return;
  for (const auto& position : headroom.gain)
    figure.travel.push_back(
        travel_curve(gain_text(position.gain_db) + " gain", chain, position, headroom.target));
  show_imbalance(*chain.source().volume, figure);
  if (found.against && has_travel(*found.input.against, found.against->gain))
    figure.travel_before = travel_curve(
        found.input.against->short_name() + ", " + gain_text(found.against->gain.front().gain_db),
        *found.input.against, found.against->gain.front(), found.against->target);
  else if (!found.against && !headroom.gain_without_pad.empty())
    figure.travel_before =
        travel_curve("without the pad, " + gain_text(headroom.gain.front().gain_db), chain,
                     headroom.gain_without_pad.front(), headroom.target);
}

}  // namespace

plots::HeadroomFigure figure_of(const HeadroomFound& found) {
  plots::HeadroomFigure figure;
  const Headroom& headroom = found.result;
  figure.title = conclusion(headroom.target);
  figure.subtitle = subtitle(found.input.chain.title(), found.input.earphone.title);
  figure.caption = fmt::format(
      "Tones, rms; {:.3g} V unloaded{}; target {} dB, peaks {} dB above; programme (IEC 60268-1) "
      "has "
      "less at both ends of the band, so its peaks pass where a tone of their level may not",
      headroom.limits.least_open_volt(),
      headroom.limits.max_ampere ? ", " + ampere_text(*headroom.limits.max_ampere) : std::string(),
      number_text(found.how.target_db), number_text(found.how.crest_db));
  figure.frequency_hz = headroom.largest.hz;
  figure.voltage_db = headroom.largest.voltage_db;
  figure.current_db = headroom.largest.current_db;
  figure.earphone_db = headroom.largest.earphone_db;
  if (found.against) {
    figure.against_label = found.input.against->short_name();
    figure.against_hz = found.against->largest.hz;
    figure.against_db = found.against->largest.spl_db;
  }
  figure.target_db = found.how.target_db;
  figure.peak_db = found.how.target_db + found.how.crest_db;
  show_travel(found, figure);
  return figure;
}

// ---- the command -------------------------------------------------------------------------------

namespace {

HeadroomOptions how_of(const HeadroomCommand& options) {
  HeadroomOptions how = options.how;
  how.band = options.grid.band;
  how.points = options.grid.points;
  return how;
}

/// Where the answer stands on the amplifier's limits alone.
void note_unknown_power(const HeadroomCommand& options, const HeadroomFound& found, Answer& given) {
  if (found.input.earphone.max_watt) return;
  given.cautions.push_back(
      "the power that " + printable(found.input.earphone.title) +
      " is rated for is not known and may limit it earlier: add `max_watt` to " +
      printable(options.files.earphone) + " and turn up with care");
}

Answer answer(const HeadroomCommand& options) {
  const auto how = how_of(options);
  const auto found =
      std::make_shared<const HeadroomFound>(ask(read_level_input(options.files), how, headroom));
  Answer given;
  add_bias_cautions(given, found->input);
  append_new(given.cautions, found->cautions());
  given.warnings = found->warnings();
  given.text = found_text(*found);
  given.json = found_json(*found);
  given.csv = found_csv(*found);
  given.draw = [found](const plots::Output& output) { plots::draw(figure_of(*found), output); };
  note_unknown_power(options, *found, given);
  const double spare_db = found->result.target.headroom_db;
  if (options.limit_db && spare_db < *options.limit_db)
    exceed(given, fmt::format("{} dB of headroom, at least {} dB asked",
                              beyond_text(spare_db, *options.limit_db, 2),
                              number_text(*options.limit_db)));
  return given;
}

}  // namespace

void add_programme_options(Command& command, HeadroomOptions& how) {
  command.add_number("--target", how.target_db, {.unit = "DB"}, "level of the programme in dB SPL");
  command.add_number("--crest", how.crest_db, {.unit = "DB"},
                     "how far its peaks stand above it, in dB (common practice, no source)");
}

void add_headroom(Command& program, Session& session) {
  auto options = std::make_shared<HeadroomCommand>();
  Command& command = *program.add_subcommand(
      "headroom",
      "Headroom, its limiting factor, the volume setting, and a check of power figures");
  command.footer(
      "Example:  ohmtilt headroom impedance-curves/attenuator-engaged.chain.toml "
      "impedance-curves/two-way-armature.earphone.toml --plot headroom.svg\n"
      "The chain says open_volt and max_ampere (or [[source.power]] points), the earphone its "
      "sensitivity.");
  add_chain_arguments(command, options->files, "earphone file with a sensitivity");
  add_programme_options(command, options->how);
  add_against_option(command, options->files.against, "at the same volume setting");
  add_limit_option(command, options->limit_db,
                   "exit with 1 if less than this many dB is to spare at the target");
  add_grid_options(command, options->grid);
  add_output_options(command, options->output);
  command.callback([options, &session] {
    respond(session, options->output, "headroom", [&] { return answer(*options); });
  });
}

}  // namespace ohmtilt::cli
