#pragma once
// What Touchstone files of one and of two ports have in common: lines, option line, keywords.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/table_cells.h>

namespace ohmtilt {

/// Reads a file line by line and hands each point to who knows what its figures stand for.
class TouchstoneLines {
 public:
  /// ports: 1 or 2. text has to outlive the object.
  TouchstoneLines(std::string_view text, std::string file, std::size_t ports)
      : text_(text), file_(std::move(file)), ports_(ports) {}
  virtual ~TouchstoneLines() = default;
  TouchstoneLines(const TouchstoneLines&) = delete;
  TouchstoneLines& operator=(const TouchstoneLines&) = delete;

 protected:
  void read_lines();
  /// A frequency that is in order, and its figures in pairs.
  virtual void add_point(double hz, const std::vector<double>& figures) = 0;

  /// The order of the pairs of a two-port's line.
  enum class Matrix { order_21_12, order_12_21, lower, upper };
  Matrix matrix() const;

  const std::string& file() const { return file_; }
  const TouchstoneOptions& options() const { return options_; }
  /// Of the port, counted from 0.
  double reference_ohm(std::size_t port) const;
  const std::vector<double>& hz() const { return hz_; }
  const std::vector<TableNote>& notes() const { return notes_; }
  /// The first note of that key, on one line; empty where there is none.
  std::string note(std::string_view key) const;
  std::vector<std::string>& warnings() { return warnings_; }
  long first_line() const { return first_line_; }
  Place here() const { return {file_, line_, 0}; }
  /// Of figure number `figure` of the point, counted from 0.
  Place here_at_figure(std::size_t figure) const { return here(cells_[figure + 1]); }

 private:
  void take_line();
  void take_comment(std::string_view comment);
  void take_option_line(std::string_view words);
  void take_keyword(std::string_view line);
  void take_version(std::string_view value);
  void take_version_2_keyword(const std::string& keyword, std::string_view value);
  void take_matrix_keyword(const std::string& keyword, std::string_view value);
  void take_network_data();
  void require_ports(std::string_view value) const;
  void take_count(std::string_view value);
  void take_references(std::string_view value);
  bool begins_noise(const std::vector<double>& figures) const;
  void take_point(std::string_view line);
  void check_frequency(double hz, double figure) const;
  void finish();
  void warn_of_missing_keywords();
  [[noreturn]] void refuse_keyword(const std::string& keyword) const;
  [[noreturn]] void refuse_without_options() const;
  [[noreturn]] void refuse_cells() const;
  [[noreturn]] void refuse_order(const std::string& wrong) const;
  std::size_t figures_wanted() const;
  double figure(std::string_view cell) const;
  Place here(std::string_view cell) const {
    return {file_, line_, cell.data() - whole_line_.data() + 1};
  }

  std::string_view text_, whole_line_;
  std::string file_;
  std::size_t ports_;
  TouchstoneOptions options_;
  std::vector<double> references_, hz_;
  std::vector<TableNote> notes_;
  std::vector<std::string> warnings_;
  table::Cells cells_;
  long line_ = 0, first_line_ = 0;
  std::optional<std::size_t> stated_count_;
  std::optional<Matrix> order_, half_;
  bool has_options_ = false, in_information_ = false, awaits_reference_ = false;
  bool network_data_ = false, ended_ = false;
};

/// The complex number that a pair of figures stands for.
Complex touchstone_complex(double first, double second, TouchstoneFormat format);

}  // namespace ohmtilt
