#include <ohmtilt/base/decibel.h>
#include <ohmtilt/design/tune/tune.h>

#include <array>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr std::array<const char*, tune_aim_count> aim_words{"span",    "target", "lowest",   "loss",
                                                            "current", "noise",  "tolerance"};

}  // namespace

const char* to_string(TuneAim aim) { return aim_words[static_cast<std::size_t>(aim)]; }

std::optional<TuneAim> aim_of_name(std::string_view name) {
  for (std::size_t i = 0; i < aim_words.size(); ++i)
    if (name == aim_words[i]) return static_cast<TuneAim>(i);
  return std::nullopt;
}

std::vector<std::string> aim_names() { return {aim_words.begin(), aim_words.end()}; }

double cost_of(TuneAim aim, double value) {
  switch (aim) {
    case TuneAim::lowest:
      return -db_from_amplitude(value);
    case TuneAim::current:
    case TuneAim::noise:
      return db_from_amplitude(value);
    default:
      return value;
  }
}

double value_of(TuneAim aim, double cost) {
  switch (aim) {
    case TuneAim::lowest:
      return amplitude_from_db(-cost);
    case TuneAim::current:
    case TuneAim::noise:
      return amplitude_from_db(cost);
    default:
      return cost;
  }
}

}  // namespace ohmtilt
