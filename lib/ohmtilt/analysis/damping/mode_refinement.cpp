#include <ohmtilt/analysis/damping/mode_refinement.h>
#include <ohmtilt/analysis/damping/mode_tracks.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/circuit/solver.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <memory>
#include <optional>

namespace ohmtilt {
namespace {

using Eigen::Index;

/// Behind what a mode is asked for: a resistance (infinite: open terminals), or a source.
struct Behind {
  double ohm = 0;
  const DampingSource* source = nullptr;  ///< instead of ohm
};

/// One zero on its way from the model's to the circuit's.
struct Traveller {
  Complex s;
  Behind behind;
  double nearest = infinity;  ///< distance of the next zero of the model
  bool lost = false;
};

/// The impedance of a circuit's port off the axis, time and again.
class PortOffAxis {
 public:
  /// circuit must outlive this.
  explicit PortOffAxis(const Circuit& circuit, std::string_view port = {})
      : circuit_(circuit), port_(circuit.port(port)) {}

  ComplexArray ohm(const ComplexArray& s) {
    if (system_)
      system_->set_off_axis(s);
    else
      system_.emplace(NodalSystem::off_axis(circuit_, s));
    return driving_point(*system_, port_);
  }

 private:
  const Circuit& circuit_;
  Port port_;
  std::optional<NodalSystem> system_;
};

/// The earphone's part of what is to be zero, exact and of the model.
class Load {
 public:
  explicit Load(const DampingEarphone& earphone) : earphone_(earphone) {
    const Array ohm = evaluate(earphone.impedance, log_grid({20, 20000}, 30)).abs();
    middle_ohm_ = std::sqrt(ohm.minCoeff() * ohm.maxCoeff());
    // Far from every source that people have, since Z + load_ohm_ must not be zero at a mode.
    load_ohm_ = 3217 * ohm.maxCoeff();
    if (!earphone.power_laws) return;
    CircuitDraft draft = earphone.power_laws->draft();
    const Port port = draft.ports.front();
    draft.parts.push_back(resistor("the load of a pole", port.plus, port.minus, load_ohm_));
    loaded_ = std::make_unique<const Circuit>(std::move(draft));
    solver_.emplace(*loaded_);
  }

  double middle_ohm() const { return middle_ohm_; }

  Complex model_ohm(Complex s) const { return evaluate(earphone_.impedance, s); }

  /// 1/Z, which is 0 at a pole of the model itself.
  Complex model_siemens(Complex s) const {
    const Complex siemens = 1.0 / model_ohm(s);
    return std::isfinite(siemens.real()) && std::isfinite(siemens.imag()) ? siemens : 0;
  }
  /// The circuit cannot be solved where its 1/Z is 0: a resistance across its terminals is taken
  /// off again.
  ComplexArray exact_siemens(const ComplexArray& s) {
    if (solver_) return solver_->ohm(s).inverse() - 1 / load_ohm_;
    return s.unaryExpr([this](Complex at) { return model_siemens(at); });
  }

 private:
  const DampingEarphone& earphone_;
  double middle_ohm_ = 1, load_ohm_ = 1;
  std::unique_ptr<const Circuit> loaded_;
  std::optional<PortOffAxis> solver_;
};

/// What is zero at a mode, nearly linear around there: Z + Zs, or 1/Z + 1/Zs for a high Zs.
class Loops {
 public:
  Loops(const DampingEarphone& earphone, const std::vector<Traveller>& all) : load_(earphone) {
    for (const auto& one : all) {
      const DampingSource* source = one.behind.source;
      if (source && source->power_laws) exact_.try_emplace(source, *source->power_laws, "earphone");
    }
  }

  /// part 0: of the models; 1: of the circuits; between: their weighted mean.
  ComplexArray value(const std::vector<Traveller>& all, const ComplexArray& s, double part) {
    const std::vector<Complex> source = source_ohm(all, s, part);
    const ComplexArray exact = load_.exact_siemens(s);
    ComplexArray values(s.size());
    for (Index i = 0; i < s.size(); ++i) {
      const auto place = static_cast<std::size_t>(i);
      const Behind& behind = all[place].behind;
      if (!is_high(behind))
        values[i] = mixed(load_.model_ohm(s[i]), 1.0 / exact[i], part) + source[place];
      else
        values[i] = mixed(load_.model_siemens(s[i]), exact[i], part) +
                    (std::isinf(behind.ohm) ? 0 : 1.0 / source[place]);
    }
    return values;
  }

 private:
  static Complex mixed(Complex model, Complex exact, double part) {
    return part == 1 ? exact : model + part * (exact - model);
  }

  bool is_high(const Behind& behind) const {
    return (behind.source ? behind.source->output_ohm : behind.ohm) > load_.middle_ohm();
  }

  std::vector<Complex> source_ohm(const std::vector<Traveller>& all, const ComplexArray& s,
                                  double part) {
    std::vector<Complex> ohm;
    for (std::size_t i = 0; i < all.size(); ++i) {
      const Behind& behind = all[i].behind;
      ohm.push_back(behind.source ? evaluate(behind.source->output, s[static_cast<Index>(i)])
                                  : Complex(behind.ohm));
    }
    for (auto& [source, solver] : exact_) {
      const ComplexArray exact = solver.ohm(s);
      for (std::size_t i = 0; i < ohm.size(); ++i)
        if (all[i].behind.source == source)
          ohm[i] = mixed(ohm[i], exact[static_cast<Index>(i)], part);
    }
    return ohm;
  }

  Load load_;
  std::map<const DampingSource*, PortOffAxis> exact_;
};

/// Newton steps of all travellers together; settled ones wait. The derivative is a difference over
/// 1e-6 of s, which costs the steps' convergence nothing that matters.
class Newton {
 public:
  Newton(const DampingEarphone& earphone, const std::vector<Traveller>& all)
      : loops_(earphone, all) {}

  /// Lost: those that do not settle, or leave the upper half of the plane or their neighbourhood,
  /// reach of |s| wide.
  void run(std::vector<Traveller>& all, double part, double reach) {
    std::vector<std::size_t> moving;
    std::vector<Complex> start;
    for (std::size_t i = 0; i < all.size(); ++i) {
      start.push_back(all[i].s);
      if (!all[i].lost) moving.push_back(i);
    }
    for (int step = 0; step < most_steps && !moving.empty(); ++step) {
      const ComplexArray by = steps(all, moving, part);
      std::vector<std::size_t> still;
      for (std::size_t k = 0; k < moving.size(); ++k) {
        Traveller& one = all[moving[k]];
        const Complex change = by[static_cast<Index>(k)];
        one.s -= change;
        const double size = std::abs(start[moving[k]]);
        one.lost = !(one.s.imag() > 1e-9 * size) || !(std::abs(one.s - start[moving[k]]) <=
                                                      std::min(reach * size, 0.4 * one.nearest));
        if (!one.lost && std::abs(change) > settled * size) still.push_back(moving[k]);
      }
      moving = std::move(still);
    }
    for (const std::size_t i : moving) all[i].lost = true;
  }

 private:
  static constexpr int most_steps = 12;
  static constexpr double settled = 1e-10;

  ComplexArray steps(const std::vector<Traveller>& all, const std::vector<std::size_t>& moving,
                     double part) {
    const auto count = static_cast<Index>(moving.size());
    std::vector<Traveller> twice;
    ComplexArray s(2 * count);
    for (Index i = 0; i < 2 * count; ++i) {
      const Traveller& one = all[moving[static_cast<std::size_t>(i % count)]];
      twice.push_back(one);
      s[i] = one.s * (i < count ? 1 : 1 + gap);
    }
    const ComplexArray value = loops_.value(twice, s, part);
    return value.head(count) * gap * s.head(count) / (value.tail(count) - value.head(count));
  }
  static constexpr double gap = 1e-6;

  Loops loops_;
};

/// Calls use with the numbers of two travellers of one condition that have come to one zero.
template <class Use>
void each_meeting(const std::vector<Traveller>& all, const std::vector<std::size_t>& group,
                  const Use& use) {
  for (std::size_t i = 0; i < all.size(); ++i)
    for (std::size_t j = i + 1; j < all.size() && group[j] == group[i]; ++j)
      if (!all[i].lost && !all[j].lost && std::abs(all[i].s - all[j].s) < 1e-7 * std::abs(all[i].s))
        use(i, j);
}

/// One that did not settle in one go, step by step from the model to the circuit, more finely where
/// that is needed.
void travel_slowly(Newton& newton, Traveller& one) {
  std::vector<Traveller> now{one};
  now[0].lost = false;
  now[0].nearest = infinity;
  double part = 0, step = 0.25;
  while (part < 1 && step > 1.0 / 100) {
    const double next = std::min(part + step, 1.0);
    std::vector<Traveller> tried = now;
    newton.run(tried, next, 0.02);
    if (tried[0].lost) {
      step /= 2;
      continue;
    }
    now = tried;
    part = next;
  }
  one = now[0];
  one.lost = part < 1;
}

std::vector<std::optional<Complex>> arrived(const DampingEarphone& earphone,
                                            const std::vector<Traveller>& start,
                                            const std::vector<std::size_t>& group) {
  std::vector<Traveller> all = start;
  Newton newton(earphone, all);
  newton.run(all, 1, 0.1);
  std::vector<std::size_t> unsure;
  each_meeting(all, group, [&](std::size_t i, std::size_t j) {
    unsure.insert(unsure.end(), {i, j});
  });
  for (const std::size_t i : unsure) all[i].lost = true;
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (!all[i].lost) continue;
    all[i] = start[i];
    travel_slowly(newton, all[i]);
  }
  // Where the model has two for one of the circuit, the one that came from farther away was none.
  each_meeting(all, group, [&](std::size_t i, std::size_t j) {
    const bool second = std::abs(all[j].s - start[j].s) > std::abs(all[i].s - start[i].s);
    all[second ? j : i].lost = true;
  });
  std::vector<std::optional<Complex>> found;
  for (const auto& one : all) found.push_back(one.lost ? std::nullopt : std::optional(one.s));
  return found;
}

double nearest_other(Complex s, const std::vector<Complex>& zeros) {
  double nearest = infinity;
  for (const Complex other : zeros)
    if (other != s && std::isfinite(other.real())) nearest = std::min(nearest, std::abs(other - s));
  return nearest;
}

/// The values that are to be refined, each with where it stands.
class Collection {
 public:
  explicit Collection(const std::vector<ModePair>& pairs) : pairs_(pairs) {}

  void add_values(std::vector<Complex>& values, const Behind& behind) {
    add(values, behind,
        [&values](Index column, Complex s) { values[static_cast<std::size_t>(column)] = s; });
  }
  void add_row(Eigen::ArrayXXcd& tracks, Index row, double ohm) {
    std::vector<Complex> values;
    for (Index j = 0; j < tracks.cols(); ++j) values.push_back(tracks(row, j));
    add(values, {ohm, nullptr},
        [&tracks, row](Index column, Complex s) { tracks(row, column) = s; });
  }

  void refine(const DampingEarphone& earphone) const {
    const auto found = arrived(earphone, start_, group_);
    for (std::size_t i = 0; i < found.size(); ++i) put_[i](found[i]);
  }

 private:
  template <class Put>
  void add(const std::vector<Complex>& values, const Behind& behind, const Put& put) {
    ++groups_;
    for (const ModePair& pair : pairs_) {
      const auto a = static_cast<std::size_t>(pair.first),
                 b = static_cast<std::size_t>(pair.second);
      if (a >= values.size() || b >= values.size()) continue;
      if (values[a].imag() == 0 || values[b] != std::conj(values[a])) continue;
      const bool upper = values[a].imag() > 0;
      const Complex s = upper ? values[a] : values[b];
      start_.push_back({s, behind, nearest_other(s, values), false});
      group_.push_back(groups_);
      put_.push_back([=](const std::optional<Complex>& found) {
        put(upper ? pair.first : pair.second, found.value_or(at_infinity));
        put(upper ? pair.second : pair.first, found ? std::conj(*found) : at_infinity);
      });
    }
  }

  const std::vector<ModePair>& pairs_;
  std::size_t groups_ = 0;
  std::vector<Traveller> start_;
  std::vector<std::size_t> group_;
  std::vector<std::function<void(const std::optional<Complex>&)>> put_;
};

bool is_approximated(const DampingEarphone& earphone, const std::vector<DampingSource>& sources) {
  return earphone.power_laws || std::any_of(sources.begin(), sources.end(), [](const auto& one) {
           return one.power_laws.has_value();
         });
}

}  // namespace

ModeRefinement::ModeRefinement(const DampingEarphone& earphone,
                               const std::vector<DampingSource>& sources)
    : earphone_(earphone), sources_(sources), needed_(is_approximated(earphone, sources)) {}

std::vector<ModePair> ModeRefinement::refine(ModeTable& table, const Band& band,
                                             const std::vector<Index>& rows) const {
  if (!needed_) return mode_pairs(table, band);
  // Some of those outside may come to lie within.
  const auto pairs = mode_pairs(table, {band.low_hz / 1.3, band.high_hz * 1.3});
  Collection all(pairs);
  all.add_values(table.at.front(), {0, nullptr});
  for (std::size_t i = 0; i < sources_.size(); ++i)
    all.add_values(table.at[i + 1], {0, &sources_[i]});
  all.add_values(table.at.back(), {infinity, nullptr});
  for (const Index row : rows) all.add_row(table.tracks, row, table.source_ohm[row]);
  all.refine(earphone_);
  return mode_pairs(table, band);
}

void ModeRefinement::refine_tracks(Eigen::ArrayXXcd& tracks, const Array& source_ohm,
                                   const std::vector<ModePair>& pairs) const {
  if (!needed_) return;
  Collection all(pairs);
  for (Index row = 0; row < tracks.rows(); ++row) all.add_row(tracks, row, source_ohm[row]);
  all.refine(earphone_);
}

}  // namespace ohmtilt
