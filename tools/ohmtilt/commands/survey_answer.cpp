#include <fmt/format.h>

#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <plots/text.h>
#include <tools/ohmtilt/commands/survey_answer.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>

namespace ohmtilt::cli {
namespace {

constexpr std::size_t most_text_rows = 100;
constexpr std::size_t most_text_columns = 9;
constexpr std::size_t most_listed = 20;

const std::array<SurveyQuantity, 5> quantities{
    {{"span", "span_db", "Span of the deviation, dB", "The largest span",
      [](const SurveyCell& cell) { return cell.deviation.span_db(); }},
     {"rise", "rise_db", "Largest rise of the response, dB", "The largest rise",
      [](const SurveyCell& cell) { return cell.deviation.rise_db; }},
     {"fall", "fall_db", "Largest fall of the response, dB", "The largest fall",
      [](const SurveyCell& cell) { return cell.deviation.fall_db; }},
     {"level-change", "level_change_db", "Change of level at the reference frequency, dB",
      "The largest change of level",
      [](const SurveyCell& cell) { return cell.deviation.level_change_db; }},
     {"q-change", "q_change_percent", "Change of the Q that changes most, %",
      "The largest change of a Q (of resonances that ring, above 0.71)",
      [](const SurveyCell& cell) {
        return cell.q_change_percent.value_or(std::numeric_limits<double>::quiet_NaN());
      },
      0, true, 30}}};

// ---- names --------------------------------------------------------------------------------------

/// What is said of "1 of 3 earphones", "an earphone", "7 earphones".
std::string counted(std::size_t count, const std::string& what) {
  return fmt::format("{} {}{}", count, what, count == 1 ? "" : "s");
}

/// How earphones are called in a table, in at most that many places of a terminal: with the file at
/// the end where cut titles are equal, and with its path where these are equal too.
class RowNames {
 public:
  RowNames(const Surveyed& found, double columns) : found_(found), columns_(columns) {
    for (const auto& row : found.survey.rows) {
      ++of_title_[title(row)];
      ++of_file_[with_file(row)];
    }
  }
  std::string operator()(const SurveyRow& row) const {
    if (of_title_.at(title(row)) == 1) return title(row);
    if (of_file_.at(with_file(row)) == 1) return with_file(row);
    const std::string path = " [" + found_.files[row.place].string() + "]";
    const double of_path = plots::columns(path) + 8;
    return of_path < columns_
               ? short_name(name(row), path, columns_)
               : short_name(name(row), fmt::format(" [file {}]", row.place + 1), columns_);
  }

 private:
  static const std::string& name(const SurveyRow& row) {
    return row.label.empty() ? row.title : row.label;
  }
  std::string title(const SurveyRow& row) const {
    return short_name(plots::columns(row.title) <= columns_ ? row.title : name(row), columns_);
  }
  std::string with_file(const SurveyRow& row) const {
    return short_name(name(row), " [" + found_.files[row.place].filename().string() + "]",
                      columns_);
  }

  const Surveyed& found_;
  double columns_;
  std::map<std::string, int> of_title_, of_file_;
};

/// "0.3" for 0.3 ohm; what has a title of its own gets a letter, because a column is narrow.
struct ColumnNames {
  std::vector<std::string> names;
  std::vector<std::string> legend;  ///< "A: Pocket amplifier"
};

std::string letters(std::size_t number) {
  const std::string last(1, static_cast<char>('A' + number % 26));
  return number < 26 ? last : letters(number / 26 - 1) + last;
}

ColumnNames column_names(const Survey& survey) {
  std::vector<std::string> short_labels;
  for (const auto& source : survey.sources) short_labels.push_back(source.short_label);
  short_labels = short_names(short_labels, 12);
  ColumnNames columns;
  for (std::size_t i = 0; i < survey.sources.size(); ++i) {
    const auto& source = survey.sources[i];
    if (source.is_number) {
      columns.names.push_back(number_text(source.output_ohm));
      continue;
    }
    // A label from its file, where it has one, stands in place of the letter.
    columns.names.push_back(short_labels[i].empty() ? letters(columns.legend.size())
                                                    : short_labels[i]);
    columns.legend.push_back(columns.names.back() + ": " + source.label);
  }
  return columns;
}

std::vector<bool> given_by_files(const Survey& survey) {
  std::vector<bool> by_file;
  for (const auto& source : survey.sources) by_file.push_back(!source.is_number);
  return by_file;
}

/// What the column of the highest output impedances is about; they are of the span, whatever else
/// is shown.
bool shows_largest(const Surveyed& found) { return found.quantity.name == "span"; }

}  // namespace

std::string largest_text(const LargestSource& largest, double from_ohm) {
  if (largest.ohm) {
    const std::string text = highest_ohm_text(*largest.ohm, from_ohm);
    return text.substr(0, text.find(' '));
  }
  return largest.start_exceeds ? "none" : "any";
}

// ---- conclusions --------------------------------------------------------------------------------

std::string limit_sentence(const std::vector<LargestSource>& earphones, double limit_db,
                           double from_ohm) {
  const std::string all = all_earphones(earphones.size());
  const std::string within = number_text(limit_db) + " dB";
  const std::string from = from_ohm > 0 ? "from " + ohm_text(from_ohm) + " " : "";
  std::optional<double> least;
  for (const auto& largest : earphones) {
    if (largest.start_exceeds) return fmt::format("No resistance keeps {} within {}", all, within);
    if (largest.ohm) least = std::min(least.value_or(INFINITY), *largest.ohm);
  }
  if (!least)
    return fmt::format("Every resistive source {}up to 1 Mohm keeps {} within {}", from, all,
                       within);
  return fmt::format("Sources {}up to {} keep {} within {}", from,
                     highest_ohm_text(*least, from_ohm), all, within);
}

namespace {

struct LargestCell {
  const SurveyRow* row = nullptr;
  std::size_t source = 0;
  double value = 0;
};

/// The cell of the largest value, by size.
std::optional<LargestCell> largest_cell(const Surveyed& found) {
  std::optional<LargestCell> largest;
  for (const auto& row : found.survey.rows)
    for (std::size_t i = 0; i < row.cells.size(); ++i) {
      const double value = found.quantity.value(row.cells[i]);
      if (std::isfinite(value) && (!largest || std::abs(value) > std::abs(largest->value)))
        largest = {&row, i, value};
    }
  return largest;
}

std::string largest_sentence(const Surveyed& found) {
  const auto largest = largest_cell(found);
  if (!largest) return "No earphone has a resonance in the band";
  const bool percent = found.quantity.key == "q_change_percent";
  const std::string value =
      percent ? fmt::format("{:+.0f} %", largest->value) : signed_db(largest->value);
  const auto [title, source] =
      title_names(largest->row->title, found.survey.sources[largest->source].label);
  return fmt::format("{}: {} on {} with {}", found.quantity.largest, value, title, source);
}

std::string headline_of(const Surveyed& found) {
  if (found.quantity.name != "span") return largest_sentence(found);
  std::vector<LargestSource> largest;
  for (const auto& row : found.survey.rows) largest.push_back(row.largest_source);
  return limit_sentence(largest, found.limit_db, found.survey.from.output_ohm);
}

std::string comparison_text(const Surveyed& found) {
  return fmt::format("compared with {}; both responses {}", found.survey.from.label,
                     anchor_text(found.grid.anchor));
}

// ---- text ---------------------------------------------------------------------------------------

std::string cell_text(const SurveyQuantity& quantity, double value) {
  if (!std::isfinite(value)) return "-";
  const int decimals = quantity.decimals + (quantity.key == "q_change_percent" ? 0 : 1);
  const double shown = std::abs(value) * std::pow(10, decimals) < 0.5 ? 0 : value;
  return fmt::format("{:.{}f}", shown, decimals);
}

/// How many earphones each source leaves within the limit.
std::vector<std::string> within_row(const Surveyed& found,
                                    const std::vector<std::size_t>& columns) {
  std::vector<std::string> row{"within " + number_text(found.limit_db) + " dB"};
  for (const std::size_t column : columns) {
    const auto within = std::count_if(
        found.survey.rows.begin(), found.survey.rows.end(), [&](const SurveyRow& one) {
          return one.cells[column].deviation.span_db() <= found.limit_db;
        });
    row.push_back(fmt::format("{}/{}", within, found.survey.rows.size()));
  }
  return row;
}

std::string matrix_text(const Surveyed& found, const ColumnNames& names) {
  const auto columns = plots::shown_columns(given_by_files(found.survey), most_text_columns);
  const RowNames row_name(found, 48);
  Rows rows{{found.quantity.heading}};
  for (const std::size_t column : columns) rows[0].push_back(printable(names.names[column]));
  if (shows_largest(found)) rows[0].push_back("up to");
  for (const std::size_t index : found.survey.ranking) {
    if (rows.size() > most_text_rows) break;
    const SurveyRow& row = found.survey.rows[index];
    rows.push_back({row_name(row)});
    for (const std::size_t column : columns)
      rows.back().push_back(cell_text(found.quantity, found.quantity.value(row.cells[column])));
    if (shows_largest(found))
      rows.back().push_back(largest_text(row.largest_source, found.survey.from.output_ohm));
  }
  if (shows_largest(found)) rows.push_back(within_row(found, columns));
  return aligned(rows);
}

std::string left_out_text(const Surveyed& found) {
  std::string text;
  if (found.survey.rows.size() > most_text_rows)
    text += fmt::format("These are the first {} of {} earphones; --csv and --json have all.\n",
                        most_text_rows, found.survey.rows.size());
  if (found.survey.sources.size() > most_text_columns)
    text += fmt::format("These are {} of {} sources; --csv and --json have all.\n",
                        most_text_columns, found.survey.sources.size());
  return text;
}

/// The first of a list, and how many more there are.
std::string listed_lines(const std::vector<std::string>& lines, const std::string& indent) {
  std::string text;
  for (std::size_t i = 0; i < std::min(lines.size(), most_listed); ++i)
    text += indent + lines[i] + "\n";
  if (lines.size() > most_listed)
    text += fmt::format("{}and {} more\n", indent, lines.size() - most_listed);
  return text;
}

std::string unreadable_text(const Surveyed& found) {
  if (found.survey.failures.empty()) return "";
  std::vector<std::string> lines;
  for (const auto& failure : found.survey.failures) {
    // An error in a file's text begins with its name.
    const std::string file = printable(found.files[failure.place].string());
    lines.push_back(failure.error.rfind(file, 0) == 0 ? failure.error
                                                      : file + ": " + failure.error);
  }
  return fmt::format("\nNot in the table, {}:\n", counted(lines.size(), "file")) +
         listed_lines(lines, "  ");
}

// ---- warnings -----------------------------------------------------------------------------------

/// What earphone_from_curve says of a curve without phase; the survey says it once for all.
bool is_phase_note(const std::string& warning) {
  return warning.find("has no phase; its minimum phase is used") != std::string::npos;
}

std::string phase_warning(const Survey& survey) {
  const auto count =
      std::count_if(survey.rows.begin(), survey.rows.end(),
                    [](const SurveyRow& row) { return row.phase == PhaseOrigin::minimum; });
  if (count == 0) return "";
  return fmt::format(
      "{} of {} curves and circuits have no phase; their minimum phase is used (`ohmtilt "
      "deviation` "
      "states the uncertainty)",
      count, survey.rows.size());
}

std::string coverage_warning(const Surveyed& found) {
  std::vector<std::string> short_ones;
  for (const auto& row : found.survey.rows)
    if (row.known.low_hz > found.grid.band.low_hz || row.known.high_hz < found.grid.band.high_hz)
      short_ones.push_back(fmt::format("{} ({} to {})",
                                       printable(found.files[row.place].filename().string(), 60),
                                       hz_text(row.known.low_hz), hz_text(row.known.high_hz)));
  if (short_ones.empty()) return "";
  const std::size_t count = short_ones.size();
  short_ones.resize(std::min<std::size_t>(count, 5));
  return fmt::format(
      "{} of {} earphones are known over a part of the band only, and compare "
      "accordingly: {}{}",
      count, found.survey.rows.size(), listed(short_ones), count > 5 ? " and others" : "");
}

std::vector<std::string> reading_warnings(const Surveyed& found) {
  std::vector<std::string> notes;
  for (const auto& row : found.survey.rows)
    for (const auto& warning : row.warnings)
      if (!is_phase_note(warning))
        notes.push_back(printable(found.files[row.place].filename().string(), 60) + ": " + warning);
  if (notes.size() <= most_listed) return notes;
  const std::size_t more = notes.size() - most_listed;
  notes.resize(most_listed);
  notes.push_back(
      fmt::format("and {} more of this kind; `ohmtilt inspect FILE` has those of one "
                  "file",
                  more));
  return notes;
}

Json matrix_json(const Survey& survey, const SurveyQuantity& quantity) {
  Json matrix = Json::array();
  for (const auto& row : survey.rows) {
    matrix.push_back(Json::array());
    for (const auto& cell : row.cells) matrix.back().push_back(json_number(quantity.value(cell)));
  }
  return matrix;
}

/// One column of the table: a value an earphone, in the order of the ranking.
template <class Value>
Array ranked(const Survey& survey, const Value& value) {
  Array column(static_cast<Eigen::Index>(survey.ranking.size()));
  for (std::size_t i = 0; i < survey.ranking.size(); ++i)
    column[static_cast<Eigen::Index>(i)] = value(survey.rows[survey.ranking[i]]);
  return column;
}

}  // namespace

std::vector<std::pair<std::string, const SurveyQuantity*>> survey_quantities() {
  std::vector<std::pair<std::string, const SurveyQuantity*>> all;
  for (const auto& quantity : quantities) all.emplace_back(quantity.name, &quantity);
  return all;
}

std::string survey_text(const Surveyed& found) {
  const ColumnNames names = column_names(found.survey);
  std::string text =
      fmt::format("{} against {}, {}.\n{}.\n\n", counted(found.survey.rows.size(), "earphone"),
                  counted(found.survey.sources.size(), "source"), printable(comparison_text(found)),
                  printable(headline_of(found)));
  text += matrix_text(found, names);
  for (const auto& line : names.legend) text += "  " + printable(line) + "\n";
  text += "Sources in ohm; the earphones that the source changes most come first.";
  if (shows_largest(found))
    text += fmt::format(" \"up to\" is the\nhighest output impedance for a span within {} dB.",
                        number_text(found.limit_db));
  text += "\n";
  return text + left_out_text(found) + unreadable_text(found);
}

Json survey_json(const Surveyed& found) {
  const Survey& survey = found.survey;
  Json json{{"earphones", Json::array()}, {"sources", Json::array()}};
  for (const auto& row : survey.rows)
    json["earphones"].push_back({{"title", row.title},
                                 {"file", valid_utf8(found.files[row.place].string())},
                                 {"largest_source",
                                  {{"limit_db", row.largest_source.limit_db},
                                   {"ohm", json_number(row.largest_source.ohm)}}}});
  for (const auto& source : survey.sources)
    json["sources"].push_back({{"label", source.label}, {"output_ohm", source.output_ohm}});
  json["span_db"] = matrix_json(survey, quantities.front());
  if (found.quantity.name != "span") json[found.quantity.key] = matrix_json(survey, found.quantity);
  json["ranking"] = survey.ranking;
  json["unreadable"] = Json::array();
  for (const auto& failure : survey.failures)
    json["unreadable"].push_back({{"file", valid_utf8(found.files[failure.place].string())},
                                  {"error", valid_utf8(failure.error)}});
  return json;
}

CsvTable survey_csv(const Surveyed& found) {
  const Survey& survey = found.survey;
  CsvTable table;
  const auto count = static_cast<Eigen::Index>(survey.ranking.size());
  table.add("rank", Array(Array::LinSpaced(count, 1, static_cast<double>(count))));
  std::vector<std::string> titles, files;
  for (const std::size_t index : survey.ranking) {
    titles.push_back(survey.rows[index].title);
    files.push_back(found.files[survey.rows[index].place].string());
  }
  table.add("title", titles);
  table.add("file", files);
  table.add("largest_source_ohm", ranked(survey, [](const SurveyRow& row) {
              return row.largest_source.ohm.value_or(std::numeric_limits<double>::quiet_NaN());
            }));
  for (const auto& quantity : quantities) {
    if (quantity.key == "q_change_percent" && found.quantity.key != quantity.key) continue;
    for (std::size_t i = 0; i < survey.sources.size(); ++i)
      table.add(fmt::format("{}_{} {}", quantity.key, i + 1, survey.sources[i].label),
                ranked(survey, [&](const SurveyRow& row) { return quantity.value(row.cells[i]); }));
  }
  return table;
}

plots::SurveyFigure survey_figure(const Surveyed& found) {
  const ColumnNames names = column_names(found.survey);
  const RowNames row_name(found, 40);
  plots::SurveyFigure figure;
  figure.conclusion = headline_of(found);
  figure.subtitle = fmt::format("{} in {}, the most sensitive first",
                                counted(found.survey.rows.size(), "earphone"), found.origin);
  figure.caption = "Sources " + comparison_text(found);
  for (const auto& line : names.legend) figure.caption += "; " + line;
  figure.heading = found.quantity.heading;
  if (shows_largest(found)) figure.limit = number_text(found.limit_db) + " dB";
  figure.sources = names.names;
  figure.kept = given_by_files(found.survey);
  figure.decimals = found.quantity.decimals;
  figure.with_sign = found.quantity.with_sign;
  figure.least_darkest = found.quantity.least_darkest;
  for (const std::size_t index : found.survey.ranking) {
    const SurveyRow& row = found.survey.rows[index];
    plots::SurveyedEarphone earphone{
        row_name(row), {}, largest_text(row.largest_source, found.survey.from.output_ohm)};
    for (const auto& cell : row.cells) earphone.value.push_back(found.quantity.value(cell));
    figure.earphones.push_back(std::move(earphone));
  }
  return figure;
}

std::vector<std::string> survey_warnings(const Surveyed& found) {
  std::vector<std::string> warnings = found.survey.warnings;
  for (const auto& one : {phase_warning(found.survey), coverage_warning(found)})
    if (!one.empty()) warnings.push_back(one);
  append_new(warnings, reading_warnings(found));
  return warnings;
}

}  // namespace ohmtilt::cli
