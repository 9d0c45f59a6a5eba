#include <ohmtilt/curve/touchstone_lines.h>
#include <ohmtilt/curve/two_port_file.h>
#include <ohmtilt/text/characters.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/input_file.h>
#include <ohmtilt/text/text.h>
#include <cmath>
#include <filesystem>

namespace ohmtilt {
namespace {

using Matrix2 = Eigen::Matrix2cd;

/// The four pairs of a line as a matrix.
class Pairs {
 public:
  Pairs(const std::vector<double>& figures, TouchstoneFormat format)
      : figures_(figures), format_(format) {}
  Complex operator[](std::size_t i) const {
    return touchstone_complex(figures_[2 * i], figures_[2 * i + 1], format_);
  }

 private:
  const std::vector<double>& figures_;
  TouchstoneFormat format_;
};

Matrix2 matrix_of(Complex m11, Complex m12, Complex m21, Complex m22) {
  Matrix2 m;
  m << m11, m12, m21, m22;
  return m;
}

/// Not finite where there is none.
Matrix2 inverse_of(const Matrix2& m) {
  const Complex determinant = m(0, 0) * m(1, 1) - m(0, 1) * m(1, 0);
  return matrix_of(m(1, 1), -m(0, 1), -m(1, 0), m(0, 0)) / determinant;
}

class TwoPortReader : public TouchstoneLines {
 public:
  TwoPortReader(std::string_view text, const std::string& name) : TouchstoneLines(text, name, 2) {}

  Read<TwoPortData> read() {
    read_lines();
    const auto points = static_cast<Eigen::Index>(hz().size());
    if (points < 2)
      throw InputError(Place{file(), first_line(), 0}, "a two-port of one point has no range",
                       "give at least two frequencies");
    TwoPortData data;
    data.notes = {note("title"), note("condition"), note("origin"), file()};
    if (data.notes.title.empty())
      data.notes.title = one_line(std::filesystem::path(file()).stem().string());
    data.frequency_hz = Eigen::Map<const Array>(hz().data(), points);
    data.reference_ohm = {reference_ohm(0), reference_ohm(1)};
    data.s = {column(0, 0), column(0, 1), column(1, 0), column(1, 1)};
    for (auto& warning : two_port_warnings(data)) warnings().push_back(std::move(warning));
    return {std::move(data), std::move(warnings())};
  }

 private:
  ComplexArray column(int row, int col) const {
    ComplexArray values(static_cast<Eigen::Index>(s_.size()));
    for (std::size_t i = 0; i < s_.size(); ++i)
      values[static_cast<Eigen::Index>(i)] = s_[i](row, col);
    return values;
  }

  void add_point(double, const std::vector<double>& figures) override {
    const Pairs pair(figures, options().format);
    switch (matrix()) {
      case Matrix::order_21_12:
        return add(matrix_of(pair[0], pair[2], pair[1], pair[3]));
      case Matrix::order_12_21:
        return add(matrix_of(pair[0], pair[1], pair[2], pair[3]));
      case Matrix::lower:
      case Matrix::upper:
        return add(matrix_of(pair[0], pair[1], pair[1], pair[2]));
    }
  }

  void add(const Matrix2& given) {
    const Matrix2 s = scattering_of(given);
    if (!s.allFinite() || !(s.norm() < 1e6))
      throw InputError(here_at_figure(0), "the two-port has no scattering parameters here",
                       "check the parameter and the references in the option line");
    s_.push_back(s);
  }

  /// S = (z - 1)(z + 1)^-1 = (1 - y)(1 + y)^-1 of z = Z/sqrt(Ri Rj), y = Y sqrt(Ri Rj), which
  /// version 1 writes already divided and multiplied by its one reference.
  Matrix2 scattering_of(const Matrix2& given) const {
    if (options().parameter == TouchstoneParameter::scattering) return given;
    const bool is_z = options().parameter == TouchstoneParameter::impedance;
    Matrix2 m = given;
    if (options().version == 2)
      for (int i = 0; i < 2; ++i)
        for (int k = 0; k < 2; ++k) {
          const double ohm = std::sqrt(reference_ohm(static_cast<std::size_t>(i)) *
                                       reference_ohm(static_cast<std::size_t>(k)));
          m(i, k) *= is_z ? 1 / ohm : ohm;
        }
    const Matrix2 one = Matrix2::Identity();
    const Matrix2 inverse = inverse_of(m + one);
    return is_z ? Matrix2((m - one) * inverse) : Matrix2((one - m) * inverse);
  }

  std::vector<Matrix2> s_;
};

std::string two_port_head(const TwoPortData& data, int version) {
  std::string text;
  const std::pair<const char*, const std::string*> notes[] = {{"title", &data.notes.title},
                                                              {"condition", &data.notes.condition},
                                                              {"origin", &data.notes.origin}};
  for (const auto& [key, value] : notes) {
    const std::string line = one_line(trimmed(*value));
    if (!line.empty()) text += "! " + std::string(key) + ": " + line + "\n";
  }
  text += "! port 1 towards the source, port 2 towards the earphone\n";
  const std::string options = "# Hz S RI R " + number_text(data.reference_ohm[0]) + "\n";
  if (version == 1) return text + options;
  return text + "[Version] 2.0\n" + options +
         "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] " +
         std::to_string(data.frequency_hz.size()) + "\n[Reference] " +
         number_text(data.reference_ohm[0]) + " " + number_text(data.reference_ohm[1]) +
         "\n[Network Data]\n";
}

}  // namespace

Read<TwoPortData> parse_two_port(std::string bytes, const std::string& name) {
  const std::string text = checked_text(std::move(bytes), name);
  return TwoPortReader(text, name).read();
}

Read<TwoPortData> read_two_port(const std::filesystem::path& file) {
  const std::string text = read_text_file(file);
  return TwoPortReader(text, file.string()).read();
}

std::string two_port_text(const TwoPortData& data, int version) {
  if (version != 1 && version != 2)
    throw InputError("Touchstone version " + std::to_string(version) + " is not written",
                     "take 1 or 2");
  if (version == 1 && data.reference_ohm[0] != data.reference_ohm[1])
    throw InputError("a Touchstone file of version 1 has one reference for both ports",
                     "write version 2, or equal references");
  std::string text = two_port_head(data, version);
  for (Eigen::Index i = 0; i < data.frequency_hz.size(); ++i) {
    text += number_text(data.frequency_hz[i]);
    for (const ComplexArray* of : {&data.s.s11, &data.s.s21, &data.s.s12, &data.s.s22})
      text += " " + number_text((*of)[i].real()) + " " + number_text((*of)[i].imag());
    text += "\n";
  }
  return version == 2 ? text + "[End]\n" : text;
}

}  // namespace ohmtilt
