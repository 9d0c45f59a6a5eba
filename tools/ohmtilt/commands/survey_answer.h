#pragma once
// What `survey` says: text, JSON, table and figure.
#include <filesystem>
#include <string>
#include <utility>
#include <vector>

#include <ohmtilt/analysis/survey.h>
#include <plots/figures/survey_figure.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// What the matrix holds: one number a cell.
struct SurveyQuantity {
  std::string name;                         ///< as --quantity takes it
  std::string key;                          ///< in JSON and CSV
  std::string heading;                      ///< with its unit
  std::string largest;                      ///< "The largest rise"
  double (*value)(const SurveyCell& cell);  ///< NaN where there is none
  int decimals = 1;
  bool with_sign = false;
  double least_darkest = 3;
};

/// Each under its name, the usual one first.
std::vector<std::pair<std::string, const SurveyQuantity*>> survey_quantities();

/// All that an answer is made of.
struct Surveyed {
  std::vector<std::filesystem::path> files;  ///< by place
  std::string origin;                        ///< "impedance-curves", or how many folders and files
  GridOptions grid;
  SurveyQuantity quantity;
  Survey survey;
  double limit_db = 1;  ///< of the largest source
};

/// Up to which source all of them stay within the limit; without a full stop.
std::string limit_sentence(const std::vector<LargestSource>& earphones, double limit_db,
                           double from_ohm);
/// "2.7", rounded so that it keeps the limit, "any" or "none".
std::string largest_text(const LargestSource& largest, double from_ohm);
std::string survey_text(const Surveyed& found);
Json survey_json(const Surveyed& found);
CsvTable survey_csv(const Surveyed& found);
plots::SurveyFigure survey_figure(const Surveyed& found);
/// On the sources, on what is not covered or has no phase, and what the readers inferred.
std::vector<std::string> survey_warnings(const Surveyed& found);

}  // namespace ohmtilt::cli
