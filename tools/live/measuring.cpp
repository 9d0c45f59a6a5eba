#include <fmt/format.h>

#include <ohmtilt/analysis/inspection/curve_inspection.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/measure/acquire.h>
#include <ohmtilt/measure/repeats.h>
#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <tools/live/measuring.h>
#include <tools/ohmtilt/commands/acquire_cautions.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt::live {
namespace {

struct Sound {
  double rate_hz = 0;
  int channels = 1;
  std::vector<float> samples;
};

std::map<std::string, Sound> sounds;
const char* const stimulus_name = "stimulus.wav";

Recording read_sound(const std::filesystem::path& file, const RecordingOptions& options) {
  const auto found = sounds.find(file.string());
  if (found == sounds.end())
    throw InputError(Place{file.string()}, "it has not been recorded yet", "record it first");
  const Sound& sound = found->second;
  HeldSamples samples(file.string(), sound.rate_hz, sound.channels, sound.samples);
  return recorded(file.string(), samples, options);
}

std::string one_of(const Words& words, const std::string& key) {
  const auto found = words.find(key);
  if (found == words.end() || found->second.empty())
    throw InputError("the page did not say \"" + key + "\"", "load it again");
  return found->second.front();
}

double number_of(const Words& words, const std::string& key) {
  const std::string text = one_of(words, key);
  const auto number = parse_number(text);
  if (!number)
    throw InputError("\"" + printable(text, 40) + "\" is no number for " + key, "write one");
  return *number;
}

std::string level_text(double amplitude) {
  return fmt::format("{:.1f} dB of full scale", db_from_amplitude(std::max(amplitude, 1e-9)));
}

/// What a device of one channel gives: the same samples twice.
bool alike(const Sound& sound) {
  for (std::size_t i = 0; i + 1 < sound.samples.size(); i += 2)
    if (sound.samples[i] != sound.samples[i + 1]) return false;
  return true;
}

/// Findings as rows of kind, text, and "refuses" where the recording cannot be used.
using Rows = std::vector<std::vector<std::string>>;
void add(const std::vector<RecordingFinding>& findings, Rows& rows) {
  for (const auto& one : findings)
    rows.push_back({one.kind, one.text, one.refuses ? "refuses" : ""});
}

/// What is wrong with the way from output to inputs, seen where both carry one signal.
void add_way_findings(const Recording& recording, bool both, Rows& rows) {
  const SweepTransfer sweep =
      transfer_by_sweep(recording, read_sound(stimulus_name, {.channels = 0}));
  SweepTransfer seen = sweep;
  if (!both) seen.harmonics = {};
  add(sweep_findings(seen), rows);
  add(tone_findings(tone_gains(recording, read_sound(stimulus_name, {.channels = 0}),
                               sweep.delay_seconds, both)),
      rows);
  add(transfer_findings(sweep.transfer, true), rows);
  if (!both) return;
  const Transfer& way = sweep.transfer;
  const MeasuredImpedance none(way.frequency_hz, way.coherence, {});
  add(evenness_findings(unevenness_db(way, none, 1)), rows);
}

}  // namespace

void give_sound(const std::string& name, double rate_hz, int channels, std::vector<float> samples) {
  sounds[name] = {rate_hz, channels, std::move(samples)};
}

void take_sounds_away() { sounds.clear(); }

void answer_measuring_cautions(Reply& reply) {
  reply.put("cautions",
            std::vector<std::string>(cli::acquire_cautions.begin(), cli::acquire_cautions.end()));
}

void answer_stimulus(const Words& words, Reply& reply) {
  StimulusOptions how;
  how.rate_hz = number_of(words, "rate");
  how.seconds = number_of(words, "seconds");
  how.level_dbfs = number_of(words, "level");
  how.lead_seconds = 0.2;
  how.test_tones = how.seconds > 1;  // what is repeated while the level rises needs none
  std::vector<float> samples = stimulus_samples(how);
  reply.put("samples", std::vector<double>(samples.begin(), samples.end()));
  give_sound(stimulus_name, how.rate_hz, 1, std::move(samples));
}

void answer_recorded(const Words& words, Reply& reply) {
  const std::string name = one_of(words, "name"), step = one_of(words, "step");
  const Recording recording = read_sound(name, {});
  Rows rows;
  const bool both = step != "short";
  if (alike(sounds.at(name)))
    rows.push_back({"mono",
                    "both channels are the same to the last bit: the device records one channel; "
                    "choose a line input of two channels",
                    "refuses"});
  add(recording_findings(recording, both ? Expected::both : Expected::first_only), rows);
  const bool usable =
      std::none_of(rows.begin(), rows.end(), [](const auto& row) { return row[2] == "refuses"; });
  if (usable && step != "earphone") add_way_findings(recording, both, rows);
  std::vector<std::string> levels;
  for (const auto& level : recording.levels) levels.push_back(level_text(level.peak));
  reply.put("levels", levels);
  reply.put("findings", rows);
}

void answer_impedance(const Words& words, Reply& reply) {
  AcquireFiles files;
  AcquireOptions how;
  files.stimulus = stimulus_name;
  for (auto [key, file] : {std::pair{"same", &files.same}, {"short", &files.short_}})
    if (words.count(key)) *file = one_of(words, key);
  how.impedance.reference_ohm = number_of(words, "reference");
  how.impedance.reference_tolerance_percent = number_of(words, "tolerance");
  const double wanted = number_of(words, "wanted");
  std::vector<ImpedanceCurve> takes;
  Rows rows;
  std::optional<Acquired> last;
  for (const auto& recording : words.at("recording")) {
    files.recording = recording;
    last = acquire_impedance(files, how, read_sound);
    takes.push_back(last->curve);
  }
  add(last->findings, rows);
  RepeatedCurve mean = mean_of_repeats(takes);
  CurveNotes notes = mean.curve.notes();
  notes.title = one_of(words, "title");
  if (takes.size() > 1) notes.origin += fmt::format("; the mean of {} recordings", takes.size());
  const ImpedanceCurve curve(notes, mean.curve.frequency_hz(), mean.curve.magnitude_ohm(),
                             mean.curve.phase_deg(), mean.curve.uncertainty_ohm());
  const double stated = stated_percent(curve, curve.uncertainty_ohm());
  reply.put("hz", curve.frequency_hz());
  reply.put("ohm", curve.magnitude_ohm());
  reply.put("phase_deg", curve.phase_deg());
  reply.put("uncertainty_ohm", curve.uncertainty_ohm());
  reply.put("stated",
            std::vector<double>{stated, double(takes_needed(mean, wanted)), double(takes.size())});
  reply.put("curve", curve_text(curve));
  reply.put("stated_text", fmt::format("|Z| is stated to ±{} (95 %, at nine of ten frequencies)",
                                       cli::percent_text(stated)));
  reply.put("steady_text", cli::percent_text(stated_percent(curve, mean.steady_ohm)));
  reply.put("findings", rows);
  reply.put("removed", last->removed);
  reply.put("assumed", last->assumed);
  reply.put("verdict", inspect(curve).for_owner);
}

void answer_sides(const std::string& first, const std::string& second, Reply& reply) {
  const CurveDifference found =
      difference_of(read_impedance(first).value, read_impedance(second).value);
  const double most = std::abs(found.percent[found.largest]);
  const double limit = found.uncertainty_95[found.largest];
  reply.put("hz", found.frequency_hz);
  reply.put("percent", found.percent);
  reply.put("uncertainty_95", found.uncertainty_95);
  reply.put("conclusion",
            fmt::format("Left and right differ by at most {} of |Z|, at {} (±{}, 95 %): {}.",
                        cli::percent_text(most), hz_text(found.frequency_hz[found.largest]),
                        cli::percent_text(limit),
                        found.seen ? "they differ by more than the measurement leaves open"
                                   : "no more than the measurement leaves open"));
}

}  // namespace ohmtilt::live
