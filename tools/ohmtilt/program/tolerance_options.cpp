#include <fmt/format.h>

#include <ohmtilt/circuit/varied_values.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/text_range.h>
#include <tools/ohmtilt/program/tolerance_options.h>

namespace ohmtilt::cli {
namespace {

/// "-10-40", or one temperature.
void parse_ambient(ToleranceOptions& options, const std::string& text) {
  const auto range = split_range(text);
  const NumberRule celsius{.least = -60, .most = 200};
  options.low_celsius = flag_number(range ? range->first : text, "--ambient", celsius);
  options.high_celsius =
      range ? flag_number(range->second, "--ambient", celsius) : options.low_celsius;
}

}  // namespace

Option add_samples_option(Command& command, long& samples, const std::string& what) {
  return command.add_number("--samples", samples,
                            {.unit = "N", .least = 10, .most = 1e6, .whole = true}, what);
}

Option add_seed_option(Command& command, std::uint64_t& seed, const std::string& what) {
  // Doubles hold every whole number up to 2^53.
  return command.add_number("--seed", seed,
                            {.unit = "S", .least = 0, .most = 0x1p53, .whole = true}, what);
}

void add_tolerance_options(Command& command, ToleranceFlags& flags) {
  ToleranceOptions& options = flags.options;
  command.add_flag("--tolerance", flags.asked,
                   "add what the tolerances of the parts do (tolerance_percent in their files)");
  add_samples_option(command, options.samples, "how many sets of values are drawn")
      ->sets(flags.asked);
  add_seed_option(command, options.seed)->sets(flags.asked);
  command
      .add_choice<Distribution>(
          "--distribution", options.distribution,
          {{"uniform", Distribution::uniform}, {"normal", Distribution::normal}},
          "uniform within the tolerance, or normal with a standard deviation of a third of it, cut "
          "off at it")
      ->sets(flags.asked);
  command
      .add_option_function(
          "--ambient", [&options](const std::string& text) { parse_ambient(options, text); },
          "temperature of the surroundings in deg C, anywhere between two, -60 to 200 [20]; of "
          "parts with temperature_ppm_per_kelvin")
      ->type_name("LO-HI")
      .sets(flags.asked);
  command
      .add_number("--heating-volt", options.heating_volt, {.unit = "V", .least = 0, .most = 1000},
                  "parts with kelvin_per_watt are anywhere between cold and as warm as this level "
                  "of the open output (of a circuit the driven port) makes them in the long run, V "
                  "rms")
      ->sets(flags.asked);
}

void add_worst_case_option(Command& command, ToleranceFlags& flags) {
  command.add_flag("--worst-case", flags.worst_case,
                   "with --tolerance: also the extremes over the corners of the tolerances, and "
                   "whether they are a bound");
}

ToleranceOptions with_progress(const ToleranceFlags& flags, const Session& session) {
  ToleranceOptions options = flags.options;
  options.progress = progress_line(session, "tolerances");
  return options;
}

std::string draws_text(const ToleranceOptions& options) {
  std::string text =
      fmt::format("{} draws, {} within the tolerances, seed {}", options.samples,
                  options.distribution == Distribution::normal ? "normally distributed" : "uniform",
                  options.seed);
  if (options.low_celsius != reference_celsius || options.high_celsius != reference_celsius)
    text += fmt::format(", {} to {} deg C", options.low_celsius, options.high_celsius);
  if (options.heating_volt) text += fmt::format(", warmed by up to {} V", *options.heating_volt);
  return text;
}

std::string reach_text(const WorstCaseReach& reach) {
  const std::string corners =
      reach.all_corners ? "over all corners of the tolerances"
                        : "over the corners that a search found, so more is not ruled out";
  return corners + (reach.inside_further
                        ? "; sets inside reach further than corners, so it is no bound"
                        : " and 1000 sets inside, which reach no further");
}

}  // namespace ohmtilt::cli
