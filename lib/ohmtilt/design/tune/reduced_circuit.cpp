#include <ohmtilt/design/tune/reduced_circuit.h>

#include <algorithm>
#include <map>

namespace ohmtilt {
namespace {

using EquationRow = std::map<Unknown, double>;

/// True where other is factor times row; factor then tells how often.
bool is_multiple(const EquationRow& row, const EquationRow& other, double& factor) {
  if (row.size() != other.size()) return false;
  factor = other.begin()->second / row.begin()->second;
  for (auto a = row.begin(), b = other.begin(); a != row.end(); ++a, ++b)
    if (a->first != b->first || b->second != factor * a->second) return false;
  return true;
}

/// row of c += scale * row of the other
void add_scaled_row(Complex* __restrict to, const Complex* __restrict from, Complex scale,
                    std::size_t count) {
  for (std::size_t i = 0; i < count; ++i) to[i] -= scale * from[i];
}

/// a x = b in place by elimination with row pivoting; a is n x n, row by row.
void eliminate(std::vector<Complex>& a, std::size_t n, Complex* b) {
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t pivot = k;
    for (std::size_t r = k + 1; r < n; ++r)
      if (std::norm(a[r * n + k]) > std::norm(a[pivot * n + k])) pivot = r;
    if (pivot != k) {
      std::swap_ranges(&a[k * n], &a[k * n] + n, &a[pivot * n]);
      std::swap(b[k], b[pivot]);
    }
    const Complex inverse = 1.0 / a[k * n + k];
    for (std::size_t r = k + 1; r < n; ++r) {
      const Complex scale = a[r * n + k] * inverse;
      add_scaled_row(&a[r * n + k], &a[k * n + k], scale, n - k);
      b[r] -= scale * b[k];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    for (std::size_t c = k + 1; c < n; ++c) b[k] -= a[k * n + c] * b[c];
    b[k] /= a[k * n + k];
  }
}

}  // namespace

ReducedCircuit::ReducedCircuit(const Circuit& circuit, const Array& hz,
                               std::vector<std::size_t> parts,
                               const std::vector<ReducedOutput>& outputs)
    : system_(circuit, hz), points_(hz.size()), outputs_(outputs.size()) {
  const Equations& equations = system_.equations();
  std::vector<std::vector<Stamp>> stamps(static_cast<std::size_t>(equations.terms));
  for (const Stamp& stamp : equations.stamps)
    stamps[static_cast<std::size_t>(stamp.term)].push_back(stamp);
  std::size_t term = 0;
  for (const std::size_t part : parts) {
    parts_.emplace_back(system_, part);
    base_.push_back(parts_.back().at(circuit.parts()[part]));
    first_term_.push_back(term);
    for (const Element* element : parts_.back().elements())
      for (int t = 0; t < element->terms; ++t)
        add_columns(stamps[static_cast<std::size_t>(element->first_term + t)], term++);
  }
  std::vector<Vector> places;
  for (const auto& output : outputs) {
    Vector place;
    if (output.current_of.empty()) {
      place = {{equations.node(output.plus), 1}, {equations.node(output.minus), -1}};
    } else {
      for (const Element& element : equations.elements)
        if (element.name == output.current_of) place = {{element.branch, 1}};
    }
    places.push_back(place);
  }
  reduce(places);
}

void ReducedCircuit::add_columns(const std::vector<Stamp>& stamps, std::size_t term) {
  std::map<Unknown, EquationRow> rows;
  for (const Stamp& stamp : stamps) rows[stamp.row][stamp.column] += stamp.sign;
  columns_of_term_.emplace_back();
  std::vector<std::pair<EquationRow, Vector>> found;  // v, u
  for (const auto& [unknown, row] : rows) {
    bool joined = false;
    for (auto& [other, u] : found) {
      double factor = 0;
      joined = is_multiple(other, row, factor);
      if (joined) {
        u.push_back({unknown, factor});
        break;
      }
    }
    if (!joined) found.push_back({row, {{unknown, 1}}});
  }
  for (const auto& [row, u] : found) {
    Vector v;
    for (const auto& [unknown, sign] : row) v.push_back({unknown, sign});
    columns_of_term_.back().push_back(columns_.size());
    columns_.push_back({term, u, v});
  }
}

void ReducedCircuit::reduce(const std::vector<Vector>& outputs) {
  const Equations& equations = system_.equations();
  std::vector<Unknown> wanted;
  std::map<Unknown, Eigen::Index> place;
  const auto want = [&](const Vector& vector) {
    for (const Entry& entry : vector)
      if (entry.unknown >= 0 &&
          place.emplace(entry.unknown, static_cast<Eigen::Index>(wanted.size())).second)
        wanted.push_back(entry.unknown);
  };
  for (const auto& column : columns_) want(column.v);
  for (const auto& output : outputs) want(output);
  std::vector<RightHandSide> sides{own_sources(equations, system_.parts())};
  for (const auto& column : columns_) {
    RightHandSide side{Eigen::VectorXcd::Zero(equations.size()), false};
    for (const Entry& entry : column.u) side.values[entry.unknown] += entry.sign;
    sides.push_back(std::move(side));
  }
  const auto solved = system_.solve(sides, wanted);
  const auto seen = [&](const Vector& vector, std::size_t side, Eigen::Index f) {
    Complex sum = 0;
    for (const Entry& entry : vector)
      if (entry.unknown >= 0) sum += entry.sign * solved[side](f, place.at(entry.unknown));
    return sum;
  };
  for (Eigen::Index f = 0; f < points_; ++f) {
    for (const auto& column : columns_) {
      y0_.push_back(seen(column.v, 0, f));
      for (std::size_t c = 0; c < columns_.size(); ++c) k_.push_back(seen(column.v, c + 1, f));
    }
    for (const auto& output : outputs) {
      o0_.push_back(seen(output, 0, f));
      for (std::size_t c = 0; c < columns_.size(); ++c) w_.push_back(seen(output, c + 1, f));
    }
  }
}

std::vector<ComplexArray> ReducedCircuit::change(std::size_t part, const Part& values) const {
  auto terms = parts_[part].at(values);
  for (std::size_t t = 0; t < terms.size(); ++t) terms[t] -= base_[part][t];
  return terms;
}

std::vector<ComplexArray> ReducedCircuit::derivative(
    std::size_t part, const std::function<Part(double)>& scaled) const {
  return parts_[part].derivative(scaled);
}

/// y of the columns, and what it takes: work.matrix is used up.
void ReducedCircuit::factor(Eigen::Index f, const std::vector<const ComplexArray*>& change,
                            Workspace& work) const {
  const std::size_t n = columns_.size();
  work.term_change.resize(n);
  for (std::size_t c = 0; c < n; ++c) work.term_change[c] = (*change[columns_[c].term])[f];
  work.matrix.resize(n * n);
  const Complex* k = &k_[static_cast<std::size_t>(f) * n * n];
  for (std::size_t r = 0; r < n; ++r)
    for (std::size_t c = 0; c < n; ++c)
      work.matrix[r * n + c] = k[r * n + c] * work.term_change[c] + (r == c ? 1.0 : 0.0);
  work.y.assign(&y0_[static_cast<std::size_t>(f) * n], &y0_[static_cast<std::size_t>(f) * n] + n);
  eliminate(work.matrix, n, work.y.data());
}

void ReducedCircuit::solve(Eigen::Index f, const std::vector<const ComplexArray*>& change,
                           Workspace& work, Complex* output) const {
  const std::size_t n = columns_.size();
  factor(f, change, work);
  for (std::size_t o = 0; o < outputs_; ++o) {
    const std::size_t at = static_cast<std::size_t>(f) * outputs_ + o;
    output[o] = o0_[at];
    for (std::size_t c = 0; c < n; ++c)
      output[o] -= w_[at * n + c] * work.term_change[c] * work.y[c];
  }
}

// d o = -a dD y with a = W (1 + D K)^-1, so (1 + K^T D) a^T = W^T.
void ReducedCircuit::solve(Eigen::Index f, const std::vector<const ComplexArray*>& change,
                           Workspace& work, Complex* output, Complex* by_term) const {
  const std::size_t n = columns_.size();
  solve(f, change, work, output);
  std::fill(by_term, by_term + outputs_ * terms(), Complex());
  const Complex* k = &k_[static_cast<std::size_t>(f) * n * n];
  for (std::size_t o = 0; o < outputs_; ++o) {
    for (std::size_t r = 0; r < n; ++r)
      for (std::size_t c = 0; c < n; ++c)
        work.matrix[r * n + c] = k[c * n + r] * work.term_change[c] + (r == c ? 1.0 : 0.0);
    const Complex* w = &w_[(static_cast<std::size_t>(f) * outputs_ + o) * n];
    work.row.assign(w, w + n);
    eliminate(work.matrix, n, work.row.data());
    for (std::size_t c = 0; c < n; ++c)
      by_term[o * terms() + columns_[c].term] -= work.row[c] * work.y[c];
  }
}

}  // namespace ohmtilt
