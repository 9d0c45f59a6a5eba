#include <ohmtilt/base/elimination.h>
#include <ohmtilt/base/orthogonal.h>
#include <ohmtilt/base/spectrum.h>
#include <ohmtilt/circuit/elements.h>
#include <ohmtilt/model/linear_system.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>

#include <algorithm>
#include <cmath>
#include <map>

namespace ohmtilt {
namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// The circuit with its capacitors and inductors as sources: r w = state_in z + drive_in u for node
/// voltages and branch currents w; z' = from_w w + from_z z. z is scaled to energy.
struct Network {
  MatrixXd r, state_in, from_w, from_z;
  VectorXd drive_in;
  std::map<std::string, Index> node;  ///< the reference has none
  std::vector<std::string> state_names;
};

bool has_state(const Part& part) {
  if (part.kind == PartKind::capacitor) return true;
  return part.kind == PartKind::inductor && part.value("henry") > 0;
}

bool needs_branch(const Part& part) {
  switch (part.kind) {
    case PartKind::capacitor:
    case PartKind::voltage_source:
    case PartKind::transformer:
    case PartKind::voltage_controlled_voltage_source:
    case PartKind::current_controlled_voltage_source:
      return true;
    case PartKind::resistor:
      return part.value("ohm") < 1e-3;
    case PartKind::inductor:
      return part.value("henry") == 0;
    default:
      return false;
  }
}

class NetworkBuilder {
 public:
  NetworkBuilder(const Circuit& circuit, const Drive& drive) : drive_(drive) {
    for (const Part& part : circuit.parts())
      for (const auto& node : part.nodes)
        if (node != circuit.reference()) net_.node.emplace(node, 0);
    Index size = 0;
    for (auto& [name, index] : net_.node) index = size++;
    for (const Part& part : circuit.parts()) {
      if (needs_branch(part)) branch_[part.name] = size++;
      if (has_state(part)) net_.state_names.push_back(part.name);
    }
    const auto states = static_cast<Index>(net_.state_names.size());
    net_.r = MatrixXd::Zero(size, size);
    net_.state_in = MatrixXd::Zero(size, states);
    net_.from_w = MatrixXd::Zero(states, size);
    net_.from_z = MatrixXd::Zero(states, states);
    net_.drive_in = VectorXd::Zero(size);
    for (const Part& part : circuit.parts()) add(part);
    if (drive.kind == Drive::Kind::port_current) add_port_current(circuit.port(drive.name));
  }
  Network take() { return std::move(net_); }

 private:
  Index at(const std::string& name) const {
    const auto found = net_.node.find(name);
    return found == net_.node.end() ? -1 : found->second;
  }
  void put(Index row, Index column, double value) {
    if (row >= 0 && column >= 0) net_.r(row, column) += value;
  }
  /// A current of value times unknown `by` leaves node a and enters node b.
  void put_current(Index a, Index b, Index by, double value) {
    put(a, by, value);
    put(b, by, -value);
  }
  void put_conductance(Index a, Index b, Index c, Index d, double siemens) {
    put_current(a, b, c, siemens);
    put_current(a, b, d, -siemens);
  }
  void put_branch(Index a, Index b, Index branch) {
    put_current(a, b, branch, 1);
    put(branch, a, 1);
    put(branch, b, -1);
  }

  void add_port_current(const Port& port) {
    if (at(port.plus) >= 0) net_.drive_in[at(port.plus)] += 1;
    if (at(port.minus) >= 0) net_.drive_in[at(port.minus)] -= 1;
  }

  void add_capacitor(const Part& part, Index a, Index b) {
    const Index branch = branch_.at(part.name);
    const double size = std::sqrt(part.value("farad"));
    put_branch(a, b, branch);
    put(branch, branch, -part.value_or("series_ohm", 0));
    net_.state_in(branch, state_) = 1 / size;
    net_.from_w(state_++, branch) = 1 / size;
  }

  void add_inductor(const Part& part, Index a, Index b) {
    const double size = std::sqrt(part.value("henry"));
    if (a >= 0) net_.state_in(a, state_) -= 1 / size;
    if (b >= 0) net_.state_in(b, state_) += 1 / size;
    if (a >= 0) net_.from_w(state_, a) += 1 / size;
    if (b >= 0) net_.from_w(state_, b) -= 1 / size;
    net_.from_z(state_, state_) = -part.value_or("series_ohm", 0) / part.value("henry");
    ++state_;
  }

  void add_resistor(const Part& part, double ohm, Index a, Index b) {
    if (!needs_branch(part)) return put_conductance(a, b, a, b, 1 / ohm);
    const Index branch = branch_.at(part.name);
    put_branch(a, b, branch);
    put(branch, branch, -ohm);
  }

  void add_two_terminal(const Part& part, Index a, Index b) {
    if (part.kind == PartKind::capacitor) return add_capacitor(part, a, b);
    if (has_state(part)) return add_inductor(part, a, b);
    if (part.kind == PartKind::inductor)
      return add_resistor(part, part.value_or("series_ohm", 0), a, b);
    if (part.kind == PartKind::resistor) return add_resistor(part, part.value("ohm"), a, b);
    if (part.kind == PartKind::current_source) return;
    put_branch(a, b, branch_.at(part.name));
    if (drive_.kind == Drive::Kind::voltage_source && part.name == drive_.name)
      net_.drive_in[branch_.at(part.name)] = 1;
  }

  void add(const Part& part) {
    const Index a = at(part.nodes[0]), b = at(part.nodes[1]);
    if (part.nodes.size() == 4) return add_four_terminal(part, a, b);
    if (part.kind == PartKind::current_controlled_voltage_source) {
      put_branch(a, b, branch_.at(part.name));
      return put(branch_.at(part.name), branch_.at(part.control), -part.value("ohm"));
    }
    if (part.kind == PartKind::current_controlled_current_source)
      return put_current(a, b, branch_.at(part.control), part.value("gain"));
    add_two_terminal(part, a, b);
  }

  void add_four_terminal(const Part& part, Index a, Index b) {
    const Index c = at(part.nodes[2]), d = at(part.nodes[3]);
    switch (part.kind) {
      case PartKind::gyrator:
        put_conductance(a, b, c, d, 1 / part.value("ohm"));
        return put_conductance(c, d, a, b, -1 / part.value("ohm"));
      case PartKind::voltage_controlled_current_source:
        return put_conductance(a, b, c, d, part.value("siemens"));
      case PartKind::transformer:
      case PartKind::voltage_controlled_voltage_source: {
        const bool passive = part.kind == PartKind::transformer;
        const double ratio = part.value(passive ? "ratio" : "gain");
        const Index branch = branch_.at(part.name);
        put_branch(a, b, branch);
        put(branch, c, -ratio);
        put(branch, d, ratio);
        if (passive) put_current(c, d, branch, -ratio);
        return;
      }
      default:
        throw InputError("part \"" + printable(part.name, 60) + "\" has no differential equation",
                         "describe it by resistors, inductors, capacitors and transformers");
    }
  }

  Drive drive_;
  Network net_;
  std::map<std::string, Index> branch_;
  Index state_ = 0;
};

/// Rows and columns of r scaled to a largest entry of one, without changing the answer.
void equilibrate(Network& net) {
  for (int pass = 0; pass < 3; ++pass) {
    for (Index i = 0; i < net.r.rows(); ++i) {
      const double size = net.r.row(i).cwiseAbs().maxCoeff();
      if (!(size > 0)) continue;
      net.r.row(i) /= std::sqrt(size);
      net.state_in.row(i) /= std::sqrt(size);
      net.drive_in[i] /= std::sqrt(size);
    }
    for (Index j = 0; j < net.r.cols(); ++j) {
      const double size = net.r.col(j).cwiseAbs().maxCoeff();
      if (!(size > 0)) continue;
      net.r.col(j) /= std::sqrt(size);
      net.from_w.col(j) /= std::sqrt(size);
    }
  }
}

constexpr double rank_threshold = 1e-11;

/// Orthonormal columns that span what the columns of matrix do not; throws unless these are
/// independent.
MatrixXd complement(const MatrixXd& matrix) {
  const Index n = matrix.rows(), k = matrix.cols();
  if (k == 0) return MatrixXd::Identity(n, n);
  const RankedBasis basis = ranked_basis(matrix, rank_threshold);
  if (basis.rank < k)
    throw InputError("the circuit leaves a voltage or a current undetermined",
                     "look for a node that hangs free, or a loop of ideal sources");
  return basis.columns.rightCols(n - k);
}

MatrixXd left_inverse(const MatrixXd& matrix) {
  if (matrix.cols() == 0) return MatrixXd(0, matrix.rows());
  return least_squares(matrix, MatrixXd(MatrixXd::Identity(matrix.rows(), matrix.rows())));
}

/// The network reduced to independent states:
/// z = keep q + follow u; w = w_of_z z + w_of_u u + free lambda, free the null space of r.
class Reduction {
 public:
  explicit Reduction(const Network& net) : net_(net) {
    const FullLu lu(net.r, rank_threshold);
    w_of_z_ = lu.solve(net.state_in);
    w_of_u_ = lu.solve(net.drive_in);
    free_ = lu.null_space();
    const MatrixXd held =
        free_.cols() > 0 ? FullLu(net.r.transpose(), rank_threshold).null_space() : free_;
    const MatrixXd constraint = held.transpose() * net.state_in;
    forced_ = net.from_w * free_;
    keep_ = complement(constraint.transpose());
    const VectorXd start =
        -left_inverse(constraint.transpose()).transpose() * (held.transpose() * net.drive_in);
    const MatrixXd rows = complement(forced_).transpose();
    project_ = solve_square(rows * keep_, rows);
    follow_ = start - keep_ * (project_ * start);
    rate_ = net.from_w * w_of_z_ + net.from_z;
    rate_u_ = net.from_w * w_of_u_;
  }

  LinearSystem system(const MatrixXd& outputs) const {
    LinearSystem s;
    s.a = project_ * rate_ * keep_;
    s.b = project_ * (rate_ * follow_ + rate_u_);
    s.c = outputs * w_of_z_ * keep_;
    s.d = outputs * (w_of_z_ * follow_ + w_of_u_);
    s.proportional = VectorXd::Zero(outputs.rows());
    if (free_.cols() > 0) {
      // forced lambda = z' - rate z - rate_u u, with z' = keep (a q + b u) + follow u'.
      const MatrixXd out = outputs * free_ * left_inverse(forced_);
      s.c += out * (keep_ * s.a - rate_ * keep_);
      s.d += out * (keep_ * s.b - rate_ * follow_ - rate_u_);
      s.proportional = out * follow_;
    }
    s.states = keep_;
    s.state_drive = follow_;
    s.state_names = net_.state_names;
    return s;
  }

 private:
  const Network& net_;
  MatrixXd w_of_z_, free_, forced_, keep_, project_, rate_;
  VectorXd w_of_u_, follow_, rate_u_;
};

void add_term(RationalModel& model, Complex s, Complex residue) {
  const auto same = [s](Complex pole) { return std::abs(pole - s) <= 1e-9 * std::abs(s); };
  if (s.imag() > 0) {
    for (PolePair& pair : model.pairs)
      if (same(pair.pole)) {
        pair.residue += residue;
        return;
      }
    model.pairs.push_back({s, residue});
  } else if (s.imag() == 0) {
    for (RealPole& real : model.real)
      if (same(real.pole)) {
        real.residue += residue.real();
        return;
      }
    model.real.push_back({s.real(), residue.real()});
  }
}

/// What a term adds at its most, |residue / Re pole|.
double reach(Complex pole, Complex residue) {
  const double damping = std::abs(pole.real());
  return damping > 0 ? std::abs(residue) / damping : INFINITY;
}

double largest_reach(const RationalModel& model) {
  double largest = std::abs(model.constant);
  for (const auto& term : model.real)
    if (term.pole != 0) largest = std::max(largest, reach(term.pole, term.residue));
  for (const auto& term : model.pairs)
    if (term.pole.real() != 0) largest = std::max(largest, reach(term.pole, term.residue));
  return largest;
}

void prune_negligible_terms(RationalModel& model) {
  const double floor = 1e-13 * largest_reach(model);
  std::erase_if(model.real, [&](const RealPole& term) {
    return term.residue == 0 || reach(term.pole, term.residue) < floor;
  });
  std::erase_if(model.pairs,
                [&](const PolePair& term) { return reach(term.pole, term.residue) < floor; });
}

RationalModel model_of(const LinearSystem& system, const NaturalModes& modes, Index output) {
  RationalModel model;
  model.constant = system.d[output];
  model.proportional = system.proportional[output];
  const Eigen::RowVectorXcd read = system.c.row(output).cast<Complex>() * modes.shape;
  for (Index i = 0; i < modes.pole.size(); ++i)
    add_term(model, modes.pole[i], read[i] * modes.input[i]);
  prune_negligible_terms(model);
  return model;
}

}  // namespace

LinearSystem linear_system(const Circuit& circuit, const Drive& drive,
                           const std::vector<Port>& outputs) {
  check_solvable(circuit);
  Network net = NetworkBuilder(circuit, drive).take();
  // Rows that read a voltage ride along while the columns are scaled.
  const Index states = net.from_w.rows();
  MatrixXd rows = MatrixXd::Zero(states + static_cast<Index>(outputs.size()), net.from_w.cols());
  rows.topRows(states) = net.from_w;
  for (std::size_t i = 0; i < outputs.size(); ++i) {
    const auto put = [&](const std::string& node, double sign) {
      const auto found = net.node.find(node);
      if (found != net.node.end()) rows(states + static_cast<Index>(i), found->second) += sign;
    };
    put(outputs[i].plus, 1);
    put(outputs[i].minus, -1);
  }
  net.from_w = rows;
  equilibrate(net);
  const MatrixXd reads = net.from_w.bottomRows(net.from_w.rows() - states);
  net.from_w = MatrixXd(net.from_w.topRows(states));
  LinearSystem system = Reduction(net).system(reads);
  if (!system.a.allFinite() || !system.b.allFinite() || !system.c.allFinite())
    throw InputError("the differential equations of the circuit overflow", "check its values");
  return system;
}

NaturalModes natural_modes(const LinearSystem& system) {
  if (system.a.size() == 0) return {};
  const Eigensystem solved = eigensystem(system.a, true);
  if (!solved.found)
    throw InputError("the modes of this circuit could not be found", "check its values");
  NaturalModes modes{solved.values, solved.vectors, {}};
  modes.input = solve_square(modes.shape, Eigen::VectorXcd(system.b.cast<Complex>()));
  // Direct current through a capacitor: the pole at zero is exactly there.
  const double size = modes.pole.cwiseAbs().maxCoeff();
  for (Complex& pole : modes.pole)
    if (std::abs(pole) < 1e-13 * size) pole = 0;
  return modes;
}

std::vector<RationalModel> rational_models(const LinearSystem& system, const NaturalModes& modes) {
  std::vector<RationalModel> models;
  for (Index i = 0; i < system.c.rows(); ++i) models.push_back(model_of(system, modes, i));
  return models;
}

Array energy_shares(const LinearSystem& system, const NaturalModes& modes, Complex s) {
  const Eigen::VectorXcd state =
      modes.shape *
      modes.input.cwiseQuotient(Eigen::VectorXcd::Constant(modes.pole.size(), s) - modes.pole);
  const Eigen::VectorXcd states =
      system.states.cast<Complex>() * state + system.state_drive.cast<Complex>();
  const Array energy = states.cwiseAbs2().array();
  return energy / energy.sum();
}

namespace {

/// Rounding leaves traces of a resistance or an inductance where there is none.
RationalModel prune_negligible_limits(RationalModel model, const LinearSystem& system) {
  const double size = largest_reach(model);
  const double audible = 1e5;  // rad/s
  const double fastest =
      system.a.size() > 0 ? std::max(audible, system.a.cwiseAbs().maxCoeff()) : audible;
  if (std::abs(model.constant) < 1e-13 * size) model.constant = 0;
  if (std::abs(model.proportional) * fastest < 1e-10 * size) model.proportional = 0;
  return model;
}

}  // namespace

PortModels port_models(const Circuit& circuit, std::string_view port,
                       const std::vector<Port>& others) {
  std::vector<Port> outputs{circuit.port(port)};
  outputs.insert(outputs.end(), others.begin(), others.end());
  PortModels result;
  result.system = linear_system(circuit, {Drive::Kind::port_current, outputs[0].name}, outputs);
  result.modes = natural_modes(result.system);
  auto models = rational_models(result.system, result.modes);
  for (auto& model : models) model = prune_negligible_limits(std::move(model), result.system);
  result.impedance = std::move(models[0]);
  result.transfer.assign(std::make_move_iterator(models.begin() + 1),
                         std::make_move_iterator(models.end()));
  return result;
}

}  // namespace ohmtilt
