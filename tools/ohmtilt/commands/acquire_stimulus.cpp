// ohmtilt acquire stimulus: the sound to play, and how to wire it.
#include <fmt/format.h>

#include <ohmtilt/measure/stimulus.h>
#include <ohmtilt/text/text.h>
#include <plots/figures/wiring_figure.h>
#include <tools/ohmtilt/commands/acquire.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <tools/ohmtilt/program/wording.h>
#include <cmath>
#include <memory>
#include <optional>

namespace ohmtilt::cli {
namespace {

using Kinds = std::vector<std::pair<std::string, StimulusKind>>;
const Kinds kinds{{"sweep", StimulusKind::sweep},
                  {"multitone", StimulusKind::multitone},
                  {"noise", StimulusKind::noise}};

struct StimulusCommand {
  StimulusOptions stimulus;
  std::string file;
  Wiring wiring = Wiring::load;
  plots::WiredPart part = plots::WiredPart::earphone;
  std::optional<double> reference_ohm;
  OutputOptions output;
};

std::string wiring_text(Wiring wiring) {
  if (wiring == Wiring::load)
    return "Wiring, second channel across the earphone:\n\n"
           "  output o---+---[ reference ]---+---[ earphone ]---+---o ground\n"
           "             |                   |                  |\n"
           "          input 1             input 2          input ground\n\n";
  return "Wiring, second channel across the reference:\n\n"
         "  output o---+---[ earphone ]---+---[ reference ]---+---o ground\n"
         "             |                  |                   |\n"
         "          input 1            input 2           input ground\n\n";
}

std::string kind_name(StimulusKind kind) {
  for (const auto& [name, value] : kinds)
    if (value == kind) return name;
  return {};
}

/// As a word of a shell's command line.
std::string shell_word(const std::string& text) {
  const bool plain = !text.empty() && text.find_first_not_of(
                                          "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                          "0123456789_./-+,:@%") == std::string::npos;
  if (plain) return text;
  std::string word = "'";
  for (const char c : printable(text)) word += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return word + "'";
}

/// What to do with the sound, in order.
std::string steps_text(const StimulusCommand& command, double played_seconds) {
  const StimulusOptions& o = command.stimulus;
  const auto seconds = static_cast<int>(std::ceil(played_seconds + 5));
  const std::string rate = number_text(o.rate_hz), file = shell_word(command.file);
  return fmt::format(
      "1. Record two channels as WAV at {0} samples a second, 24 bits: automatic gain, noise\n"
      "   suppression, echo cancelling and all effects off, both inputs at the same gain.\n"
      "2. Start recording, play the file at once, stop three seconds after it has ended. On "
      "Linux:\n\n"
      "     PipeWire    pw-record --rate {0} --channels 2 --format s24 recording.wav\n"
      "                 pw-play {1}\n"
      "     PulseAudio  parecord --rate={0} --channels=2 --format=s24le --file-format=wav "
      "recording.wav\n"
      "                 paplay {1}\n"
      "     ALSA        arecord -D hw:0 -r {0} -c 2 -f S24_3LE -d {2} recording.wav\n"
      "                 aplay -D plughw:0 {1}\n\n"
      "   (each first line in a terminal of its own; Ctrl-C ends the first two; arecord -l lists "
      "cards).\n"
      "3. Level: the loudest peak of the recording at -12 to -6 dB of full scale, never at 0.\n"
      "4. Record one signal on both inputs first and once more last, and a short (figures:\n"
      "   --calibration same, short). Leave volume and gains alone from the first to the last: "
      "the\n"
      "   one recorded last tells whether they stayed.\n"
      "5. Next: ohmtilt acquire impedance recording.wav --reference {3} --stimulus {1}{4}\n"
      "     --calibrate-same same.wav --calibrate-again again.wav --calibrate-short short.wav\n"
      "     --write mine.csv\n\n",
      rate, file, seconds, command.reference_ohm ? number_text(*command.reference_ohm) : "OHM",
      command.wiring == Wiring::reference ? " --wiring reference" : "");
}

std::string resistor_text(const StimulusCommand& command) {
  if (!command.reference_ohm)
    return "The reference is a resistor near the earphone's impedance (10 to 47 ohm, 1 W).\n";
  return fmt::format("The reference is a resistor of {} ohm for {} W (2 V across it alone).\n",
                     number_text(*command.reference_ohm),
                     number_text(plots::reference_watt(*command.reference_ohm)));
}

Answer stimulus_answer(const StimulusCommand& command) {
  const StimulusOptions& o = command.stimulus;
  const WavContent content = stimulus(o);
  const double seconds = static_cast<double>(content.samples.size()) / o.rate_hz;
  Answer answer;
  answer.text = fmt::format(
      "{}: {} from {} to {}, {} s including silence, {} dB of full scale, {} samples a second",
      printable(command.file), kind_name(o.kind), hz_text(o.band.low_hz), hz_text(o.band.high_hz),
      number_text(std::round(seconds * 100) / 100), number_text(o.level_dbfs),
      number_text(o.rate_hz));
  if (o.kind != StimulusKind::sweep) answer.text += fmt::format(", seed {}", o.seed);
  answer.text += "; tones of two levels before and after it show automatic gain";
  answer.text += "\n\n" + wiring_text(command.wiring) + resistor_text(command) +
                 "Plugs of 3.5 mm: tip left, ring right, sleeve ground; measure one channel of the "
                 "earphone.\n\n" +
                 steps_text(command, seconds);
  for (const char* caution : acquire_cautions) answer.warnings.emplace_back(caution);
  answer.json = {{"kind", kind_name(o.kind)},
                 {"sample_rate_hz", o.rate_hz},
                 {"seconds", seconds},
                 {"level_dbfs", o.level_dbfs},
                 {"band_hz", Json::array({o.band.low_hz, o.band.high_hz})},
                 {"seed", o.kind == StimulusKind::sweep ? Json(nullptr) : Json(o.seed)}};
  answer.documents.push_back({command.file, wav_bytes(content)});
  answer.draw_schematic = [command](const plots::Output& output) {
    plots::draw(plots::wiring_schematic(command.wiring, command.part, command.reference_ohm),
                output);
  };
  return answer;
}

}  // namespace

void add_stimulus(Command& acquire, Session& session) {
  auto options = std::make_shared<StimulusCommand>();
  options->stimulus.test_tones = true;
  Command& command =
      *acquire.add_subcommand("stimulus", "Write the sound to play, and how to wire it");
  command.footer(
      acquire_caution_footer() +
      "Example:  ohmtilt acquire stimulus --seconds 10 --write sweep.wav --draw wiring.svg");
  command.add_option("--write", options->file, "the WAV file to write")
      ->required()
      ->type_name("FILE");
  StimulusOptions& stimulus = options->stimulus;
  command.add_choice("--kind", stimulus.kind, kinds, "sweep, multitone or noise");
  command.add_number("--sample-rate", stimulus.rate_hz,
                     {.unit = "HZ", .least = 8000, .most = 768000, .whole = true},
                     "samples a second, Hz");
  command.add_number("--seconds", stimulus.seconds, {.unit = "S", .least = 1, .most = 600},
                     "length of the sound, s");
  command.add_number("--level-dbfs", stimulus.level_dbfs, {.unit = "DB", .least = -120, .most = 0},
                     "highest peak, dB of full scale");
  add_seed_option(command, stimulus.seed, "seed of multitone and noise");
  add_band_option(command, stimulus.band);
  add_wiring_option(command, options->wiring);
  command.add_choice<plots::WiredPart>("--calibration", options->part,
                                       {{"none", plots::WiredPart::earphone},
                                        {"same", plots::WiredPart::same},
                                        {"open", plots::WiredPart::open},
                                        {"short", plots::WiredPart::shorted},
                                        {"known", plots::WiredPart::known}},
                                       "what --draw shows in the earphone's place");
  add_reference_option(command, options->reference_ohm, ", for the figure and the next command");
  add_output_options(command, options->output, false);
  add_schematic_option(command, options->output, "of the wiring");
  command.callback([options, &session] {
    respond(session, options->output, "acquire stimulus",
            [&] { return stimulus_answer(*options); });
  });
}

}  // namespace ohmtilt::cli
