#pragma once
// All that a report says, worked out before a word of it is written.
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/survey.h>
#include <tools/ohmtilt/commands/crosstalk.h>
#include <tools/ohmtilt/commands/damping.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/commands/headroom.h>
#include <tools/ohmtilt/commands/hiss.h>

namespace ohmtilt::cli {

struct ReportFiles {
  std::string chain;
  std::vector<std::string> earphones;  ///< files and folders
  std::optional<std::string> against;  ///< nothing: the chain without its attenuation
};

struct ReportOptions {
  ComparisonOptions comparison;  ///< with its limit_db, for the largest source
  HeadroomOptions headroom;
  std::string title;                     ///< of the page; empty: what is compared
  std::string date;                      ///< as it shall stand there; may be empty
  std::function<void(double)> progress;  ///< told how much is done, 0 to 1; may be empty
};

enum class Topic { response, decay, level, hiss, channels };

/// Something that the files do not say, or that could not be worked out.
struct Gap {
  Topic topic;
  std::string unknown;  ///< what is not known for it: "whether it hisses"
  std::string add;      ///< "add `noise_volt` to [source] of NAME.chain.toml"
};
/// "Whether it hisses is not known: add `noise_volt` ...".
std::string sentence(const Gap& gap);

struct EarphoneFindings {
  std::string file;  ///< without its folders
  std::string path;  ///< as it was found
  Earphone earphone;
  Comparison comparison;  ///< one case
  std::optional<DampingFound> damping;
  std::optional<HeadroomFound> headroom;
  std::optional<HissFound> hiss;
  std::optional<CrosstalkFound> crosstalk;
  std::vector<Gap> gaps;
  std::vector<std::string> hazards;   ///< of a bias voltage
  std::vector<std::string> cautions;  ///< what else can hurt ears, earphone or amplifier

  const ComparedSource& compared() const { return comparison.cases.front(); }
  const std::string& title() const { return earphone.title; }
  double span_db() const { return compared().deviation.span_db; }
};

/// A file of a folder that could not be used.
struct LeftOut {
  std::string file;  ///< as it was found
  std::string error;
};

struct ReportFindings {
  std::string file;  ///< of the chain, without its folders
  Chain chain, against;
  std::string against_is;  ///< how it was chosen, a sentence
  ReportOptions how;
  std::vector<Gap> gaps;                    ///< of the chain
  std::vector<EarphoneFindings> earphones;  ///< the largest span first
  Survey others;  ///< what usual sources do instead of against; a row an earphone
  std::vector<LeftOut> left_out;
  std::vector<std::string> hazards, cautions, warnings;  ///< each once
};

/// What the table of costs and benefits holds of one chain on one earphone; nothing where it is not
/// known. The numbers are those of the commands.
struct Merits {
  std::optional<double> hiss_over_threshold_db, headroom_db, travel_percent, imbalance_db;
  std::optional<double> separation_db;
};
Merits merits_before(const EarphoneFindings& found);
Merits merits_after(const EarphoneFindings& found);

/// What texts_of says of each earphone, each once: what is said of all of them stands alone, what
/// is said of some bears their names.
std::vector<std::string> said_once(
    const ReportFindings& report,
    const std::function<std::vector<std::string>(const EarphoneFindings&)>& texts_of);

/// "Its title: text" where the report is on several earphones, otherwise the text alone.
std::string of_earphone(const ReportFindings& report, const EarphoneFindings& found,
                        const std::string& text);

/// Throws InputError where a file that was named cannot be read or its earphone has no range in
/// common with the band, and where a folder has nothing else; otherwise such a file of a folder is
/// left out. Earphones of one title get their files' names behind it. An analysis that the files do
/// not carry is left out and is a gap.
ReportFindings report_findings(const ReportFiles& files, const ReportOptions& how);

}  // namespace ohmtilt::cli
