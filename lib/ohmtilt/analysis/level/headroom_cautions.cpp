#include <ohmtilt/analysis/level/headroom_cautions.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/noise_exposure.h>
#include <ohmtilt/text/quantities.h>
#include <ohmtilt/text/text.h>
#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// Phase of an impedance below which a load counts as capacitive.
constexpr double capacitive_radian = -45 * degree;

void warn_of_capacitance(const ChainDrive& drive, const TargetNeeds& target,
                         std::vector<std::string>& warnings) {
  const auto last = drive.hz.size() - 1;
  if (std::arg(drive.load_ohm[last]) > capacitive_radian) return;
  Eigen::Index first = last;
  while (first > 0 && std::arg(drive.load_ohm[first - 1]) < capacitive_radian) --first;
  const double milliampere = 1000 * target.emf_volt * drive.source_ampere[last];
  warnings.push_back("the load is capacitive from " + hz_text(drive.hz[first]) +
                     " up: its current rises with frequency, a full-level tone at the top would "
                     "take " +
                     number_text(std::round(milliampere * 10) / 10) + " mA");
}

/// "the NIOSH (1998) limit is about 11 hours a day", rounded down.
std::string listening_text(double minutes) {
  if (minutes < 1) return "no listening time at all is left by NIOSH (1998)";
  const bool hours = minutes >= 120;
  return "the NIOSH (1998) limit is about " + significant_down(hours ? minutes / 60 : minutes) +
         (hours ? " hours" : " minutes") + " a day";
}

void warn_of_level(const Headroom& result, std::vector<std::string>& warnings) {
  const double level = result.target.level_dba;
  if (level > niosh_level_dba)
    warnings.push_back(
        "at " + number_text(std::round(level * 10) / 10) + " dB(A) " +
        listening_text(result.niosh_minutes_a_day) +
        " (85 dB(A) for 8 h, 3 dB exchange); follow local rules and ask an audiologist");
  if (result.target.limited_by == Limit::earphone && result.target.headroom_db < 0)
    warnings.push_back("the target's peaks are above the power that the earphone is rated for");
}

void warn_of_earphone_power(const Earphone& earphone, const Headroom& result,
                            std::vector<std::string>& warnings) {
  const auto& by = result.largest.limited_by;
  if (std::find(by.begin(), by.end(), Limit::earphone) != by.end())
    warnings.push_back("the amplifier can give more than the " +
                       number_text(*earphone.max_watt * 1000) +
                       " mW that the earphone is rated for: turn up with care");
}

}  // namespace

std::vector<std::string> headroom_cautions(const Earphone& earphone, const ChainDrive& drive,
                                           const Headroom& result) {
  std::vector<std::string> warnings;
  warn_of_level(result, warnings);
  warn_of_earphone_power(earphone, result, warnings);
  warn_of_capacitance(drive, result.target, warnings);
  return warnings;
}

}  // namespace ohmtilt
