#pragma once
#include <string>
#include <vector>

#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/circuit/part_terms.h>

namespace ohmtilt {

/// What is looked at in a circuit whose own sources act: the voltage between two nodes, or, where a
/// part is named, the current through it (a voltage-source).
struct ReducedOutput {
  std::string plus, minus;
  std::string current_of;
};

/// A circuit in which a few parts change, reduced to what they and the outputs see of the rest:
/// with A x = b and A = A0 + U D V^T, where D holds the changes of the parts' factors and U and V
/// their places, o = o0 - W D y with (1 + K D) y = y0 (Sherman, Morrison and Woodbury; any textbook
/// on linear algebra). A set of values costs one small system a frequency. Calls may come from
/// several threads.
class ReducedCircuit {
 public:
  /// parts: those that change, by their places in the circuit. Throws InputError as NodalSystem.
  ReducedCircuit(const Circuit& circuit, const Array& hz, std::vector<std::size_t> parts,
                 const std::vector<ReducedOutput>& outputs);
  ReducedCircuit(const ReducedCircuit&) = delete;
  ReducedCircuit& operator=(const ReducedCircuit&) = delete;

  Eigen::Index points() const { return points_; }
  std::size_t outputs() const { return outputs_; }
  /// Factors that change: those of the first part, then of the second, and so on.
  std::size_t terms() const { return columns_of_term_.size(); }
  std::size_t first_term(std::size_t part) const { return first_term_[part]; }
  /// The factors of parts[part] with these values less those it had, one array a term.
  std::vector<ComplexArray> change(std::size_t part, const Part& values) const;
  /// d factors / d ln x, where scaled(r) is the part with r times the value x.
  std::vector<ComplexArray> derivative(std::size_t part,
                                       const std::function<Part(double)>& scaled) const;

  /// Where one thread works.
  struct Workspace {
    std::vector<Complex> matrix, y, row, term_change;
  };
  /// The outputs at frequency f; change: one array a term.
  void solve(Eigen::Index f, const std::vector<const ComplexArray*>& change, Workspace& work,
             Complex* output) const;
  /// And their derivatives by each term: outputs rows, terms columns, row by row.
  void solve(Eigen::Index f, const std::vector<const ComplexArray*>& change, Workspace& work,
             Complex* output, Complex* by_term) const;

 private:
  struct Entry {
    Unknown unknown;
    double sign;
  };
  using Vector = std::vector<Entry>;
  struct Column {
    std::size_t term;
    Vector u, v;
  };
  void add_columns(const std::vector<Stamp>& stamps, std::size_t term);
  void reduce(const std::vector<Vector>& outputs);
  void factor(Eigen::Index f, const std::vector<const ComplexArray*>& change,
              Workspace& work) const;

  NodalSystem system_;
  std::vector<PartTerms> parts_;
  std::vector<std::vector<ComplexArray>> base_;
  std::vector<std::size_t> first_term_;
  std::vector<Column> columns_;
  std::vector<std::vector<std::size_t>> columns_of_term_;
  Eigen::Index points_ = 0;
  std::size_t outputs_ = 0;
  // One block a frequency: K row by row, y0, W row by row, o0.
  std::vector<Complex> k_, y0_, w_, o0_;
};

}  // namespace ohmtilt
