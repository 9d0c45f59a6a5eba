// ohmtilt acquire stimulus: the sound to play, and how to wire it.
#include <fmt/format.h>

#include <ohmtilt/measure/stimulus.h>
#include <plots/figures/wiring_figure.h>
#include <tools/ohmtilt/commands/acquire.h>
#include <tools/ohmtilt/program/wording.h>
#include <cmath>
#include <memory>

namespace ohmtilt::cli {
namespace {

const std::map<std::string, StimulusKind> kinds{{"sweep", StimulusKind::sweep},
                                                {"multitone", StimulusKind::multitone},
                                                {"noise", StimulusKind::noise}};

struct StimulusCommand {
  StimulusOptions stimulus;
  std::string file;
  Wiring wiring = Wiring::load;
  OutputOptions output;
};

const char* const cautions =
    "Take the earphones off the ears before anything plays, start at the lowest level and raise "
    "it\n"
    "slowly. Never connect an output that carries a bias voltage, nor a bridged output whose "
    "return is\n"
    "not ground, to a sound card's inputs.\n";

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

Answer stimulus_answer(const StimulusCommand& command) {
  const StimulusOptions& o = command.stimulus;
  const WavContent content = stimulus(o);
  const double seconds = static_cast<double>(content.samples.size()) / o.rate_hz;
  Answer answer;
  answer.text = fmt::format(
      "{}: {} from {} to {}, {} s with its silence, {} dB of full scale, {} samples a second",
      printable(command.file), kind_name(o.kind), hz_text(o.band.low_hz), hz_text(o.band.high_hz),
      number_text(std::round(seconds * 100) / 100), number_text(o.level_dbfs),
      number_text(o.rate_hz));
  if (o.kind != StimulusKind::sweep) answer.text += fmt::format(", seed {}", o.seed);
  answer.text += "\n\n" + wiring_text(command.wiring) + cautions;
  answer.json = {{"kind", kind_name(o.kind)},
                 {"sample_rate_hz", o.rate_hz},
                 {"seconds", seconds},
                 {"level_dbfs", o.level_dbfs},
                 {"band_hz", Json::array({o.band.low_hz, o.band.high_hz})},
                 {"seed", o.kind == StimulusKind::sweep ? Json(nullptr) : Json(o.seed)}};
  answer.documents.push_back({command.file, wav_bytes(content)});
  answer.draw_schematic = [wiring = command.wiring](const plots::Output& output) {
    plots::draw(plots::wiring_schematic(wiring), output);
  };
  return answer;
}

}  // namespace

void add_stimulus(Command& acquire, Session& session) {
  auto options = std::make_shared<StimulusCommand>();
  Command& command =
      *acquire.add_subcommand("stimulus", "Write the sound to play, and how to wire it");
  command.footer(
      "Example:  ohmtilt acquire stimulus --seconds 10 --write sweep.wav --draw wiring.svg");
  command.add_option("--write", options->file, "the WAV file to write")
      ->required()
      ->type_name("FILE");
  add_choice(command, "--kind", options->stimulus.kind, kinds, "sweep, multitone or noise [sweep]");
  command.add_option("--sample-rate", options->stimulus.rate_hz, "samples a second, Hz [48000]");
  command.add_option("--seconds", options->stimulus.seconds, "length of the sound, s [10]");
  command.add_option("--level-dbfs", options->stimulus.level_dbfs,
                     "highest peak, dB of full scale [-30]");
  command.add_option("--seed", options->stimulus.seed, "seed of multitone and noise [1]");
  add_band_option(command, options->stimulus.band);
  add_wiring_option(command, options->wiring,
                    "what the second channel sees: load or reference [load]");
  add_output_options(command, options->output, false);
  add_schematic_option(command, options->output, "of the wiring");
  command.callback([options, &session] {
    respond(session, options->output, "acquire stimulus",
            [&] { return stimulus_answer(*options); });
  });
}

}  // namespace ohmtilt::cli
