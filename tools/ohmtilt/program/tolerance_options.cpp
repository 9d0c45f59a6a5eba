#include <fmt/format.h>

#include <ohmtilt/circuit/varied_values.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/program/progress.h>
#include <tools/ohmtilt/program/text_range.h>
#include <tools/ohmtilt/program/tolerance_options.h>
#include <cmath>

namespace ohmtilt::cli {
namespace {

/// Doubles hold every whole number up to 2^53.
double parse_whole(const std::string& text, const std::string& flag, double least, double most) {
  const double value = parse_flag_number(text, flag);
  if (value != std::floor(value) || value < least || value > most)
    throw InputError(flag + " " + printable(text) + " is not understood",
                     fmt::format("give a whole number from {:.0f} to {:.0f}", least, most));
  return value;
}

Distribution parse_distribution(const std::string& text) {
  if (text == "uniform") return Distribution::uniform;
  if (text == "normal") return Distribution::normal;
  throw InputError("--distribution \"" + printable(text) + "\" is not known",
                   "say uniform or normal");
}

/// "-10-40", or one temperature.
void parse_ambient(ToleranceOptions& options, const std::string& text) {
  const auto range = split_range(text);
  options.low_celsius = parse_flag_number(range ? range->first : text, "--ambient");
  options.high_celsius =
      range ? parse_flag_number(range->second, "--ambient") : options.low_celsius;
}

template <class Set>
void add_flag_value(Command& command, ToleranceFlags& flags, const std::string& name,
                    const std::string& help, const std::string& type, const Set& set) {
  command
      .add_option_function(
          name,
          [&flags, set](const std::string& text) {
            flags.asked = true;
            set(flags.options, text);
          },
          help)
      ->type_name(type);
}

}  // namespace

void add_tolerance_options(Command& command, ToleranceFlags& flags) {
  command.add_flag("--tolerance", flags.asked,
                   "add what the tolerances of the parts do (tolerance_percent in their files)");
  add_flag_value(command, flags, "--samples", "how many sets of values are drawn [10000]", "N",
                 [](ToleranceOptions& options, const std::string& text) {
                   options.samples = static_cast<long>(parse_whole(text, "--samples", 10, 1e6));
                 });
  add_flag_value(command, flags, "--seed", "random seed [1]", "S",
                 [](ToleranceOptions& options, const std::string& text) {
                   options.seed =
                       static_cast<std::uint64_t>(parse_whole(text, "--seed", 0, 0x1p53));
                 });
  add_flag_value(command, flags, "--distribution",
                 "uniform within the tolerance, or normal with a standard deviation of a third of "
                 "it, cut off at it [uniform]",
                 "uniform|normal", [](ToleranceOptions& options, const std::string& text) {
                   options.distribution = parse_distribution(text);
                 });
  add_flag_value(command, flags, "--ambient",
                 "temperature of the surroundings in deg C, anywhere between "
                 "two [20]; of parts with "
                 "temperature_ppm_per_kelvin",
                 "LO-HI", parse_ambient);
  add_flag_value(command, flags, "--heating-volt",
                 "what the open output (of a circuit the driven port) has in the long "
                 "run, V rms: "
                 "parts with kelvin_per_watt are anywhere between cold and warm",
                 "V", [](ToleranceOptions& options, const std::string& text) {
                   options.heating_volt = parse_flag_number(text, "--heating-volt");
                 });
}

void add_worst_case_option(Command& command, ToleranceFlags& flags) {
  command.add_flag("--worst-case", flags.worst_case,
                   "with --tolerance: also the extremes over the corners of "
                   "the tolerances, and "
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
