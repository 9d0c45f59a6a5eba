#include <ohmtilt/analysis/deviation/deviation.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/hearing/erb.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <cmath>

namespace ohmtilt {
namespace {

constexpr Eigen::Index anchor_band_points = 961;

template <class... Cases>
struct Overloaded : Cases... {
  using Cases::operator()...;
};
template <class... Cases>
Overloaded(Cases...) -> Overloaded<Cases...>;

Array anchor_frequencies(const Anchor& anchor) {
  return std::visit(
      Overloaded{[](const AnchorFrequency& a) -> Array { return Array::Constant(1, a.hz); },
                 [](const AnchorBand& a) -> Array {
                   return log_grid({a.low_hz, a.high_hz}, anchor_band_points);
                 },
                 [](const NoAnchor&) -> Array { return Array(0); }},
      anchor);
}

void check_anchor(const Array& anchor_hz, const Band& data) {
  for (const double hz : anchor_hz)
    if (!data.contains(hz))
      throw InputError("the reference frequency of " + number_text(hz) +
                           " Hz is outside the data, which reach from " + number_text(data.low_hz) +
                           " to " + number_text(data.high_hz) + " Hz",
                       "choose one within them, or none");
}

/// |terminal voltage / open-circuit voltage|^2 divided by |Z|^2, which cancels between two sources.
Array inverse_loop_power(const ComplexArray& load_ohm, const TheveninSamples& source) {
  const Array divided = (load_ohm + source.output_ohm).abs2();
  if (source.open_ratio.size() == 0) return divided.inverse();
  return source.open_ratio.abs2() / divided;
}

/// What the anchor takes away of a curve given on grid.all_hz().
double at_anchor(const DeviationGrid& grid, const Array& all_db) {
  if (grid.anchor_hz.size() == 0) return 0;
  return mean_over_ln_f(grid.anchor_hz, all_db.tail(grid.anchor_hz.size()));
}

void describe(const DeviationGrid& grid, Deviation& result) {
  const Array& d = result.deviation_db;
  Eigen::Index highest = 0;
  Eigen::Index lowest = 0;
  result.rise.db = d.maxCoeff(&highest);
  result.fall.db = d.minCoeff(&lowest);
  result.rise.hz = grid.grid_hz[highest];
  result.fall.hz = grid.grid_hz[lowest];
  result.span_db = result.rise.db - result.fall.db;
  result.rms_db = std::sqrt(mean_over_ln_f(grid.grid_hz, d.square()));
  const Array power = power_from_db(d);
  const Array heard = averaged_over_erb(grid.grid_hz, power);
  result.erb_span_db = db_from_power(heard.maxCoeff() / heard.minCoeff());
}

struct DbExtremes {
  double lowest_db = INFINITY, highest_db = -INFINITY;
  void include(double db) {
    lowest_db = std::min(lowest_db, db);
    highest_db = std::max(highest_db, db);
  }
};

/// Extremes over phase phi in +-90 degrees of 10 lg (|1 + a|^2 / |1 + b|^2), where
/// a = Zfrom/Z, b = Zto/Z and Z = |Z| e^(j phi).
/// |1 + a|^2 = 1 + |a|^2 + 2 |a| cos(arg Zfrom - phi) is affine in (cos phi, sin phi), so the
/// ratio's stationary points solve p cos phi + q sin phi + r = 0.
struct Affine {  ///< level + c cos phi + s sin phi
  double level, c, s;
  Affine(Complex source_ohm, double magnitude_ohm)
      : level(1 + std::norm(source_ohm) / (magnitude_ohm * magnitude_ohm)),
        c(2 * source_ohm.real() / magnitude_ohm),
        s(2 * source_ohm.imag() / magnitude_ohm) {}
  double at(double phi) const { return level + c * std::cos(phi) + s * std::sin(phi); }
};

DbExtremes extremes_over_phase(const Affine& from, const Affine& to) {
  constexpr double right_angle = std::numbers::pi / 2;
  const double p = from.s * to.level - from.level * to.s;
  const double q = from.level * to.c - from.c * to.level;
  const double r = from.s * to.c - from.c * to.s;
  const double length = std::hypot(p, q);
  double candidates[] = {-right_angle, right_angle, 0, 0};
  int count = 2;
  if (length > 0 && std::abs(r) <= length) {
    const double middle = std::atan2(q, p);
    const double half = std::acos(-r / length);
    for (const double phi : {middle + half, middle - half}) {
      const double wrapped = std::remainder(phi, 2 * std::numbers::pi);
      if (std::abs(wrapped) < right_angle) candidates[count++] = wrapped;
    }
  }
  DbExtremes found;
  for (int i = 0; i < count; ++i)
    found.include(db_from_power(from.at(candidates[i]) / to.at(candidates[i])));
  return found;
}

/// |1 + j t Z|^2 for a load of 1/(j t): 1 - 2 t X + t^2 |Z|^2.
double loop_power(Complex source_ohm, double t) {
  return 1 - 2 * t * source_ohm.imag() + t * t * std::norm(source_ohm);
}

/// Extremes of 10 lg (|1 + j t Zfrom|^2 / |1 + j t Zto|^2) for |t| up to most: at the ends or where
/// the derivative's numerator, a quadratic in t, is zero.
DbExtremes extremes_over_reactance(Complex from, Complex to, double most) {
  const double a = from.imag() * std::norm(to) - to.imag() * std::norm(from);
  const double b = std::norm(from) - std::norm(to);
  const double c = to.imag() - from.imag();
  DbExtremes found;
  const auto include = [&](double t) {
    if (std::abs(t) <= most) found.include(db_from_power(loop_power(from, t) / loop_power(to, t)));
  };
  for (const double t : {-most, 0.0, most}) include(t);
  const double root = b * b - 4 * a * c;
  if (root < 0) return found;
  const double half = -0.5 * (b + std::copysign(std::sqrt(root), b));  // no cancelling
  if (a != 0) include(half / a);
  if (half != 0) include(c / half);
  return found;
}

/// Extremes of the change over all passive loads of at least lowest_ohm.
DbExtremes extremes_over_loads(Complex from, Complex to, double lowest_ohm) {
  DbExtremes found = extremes_over_phase(Affine(from, lowest_ohm), Affine(to, lowest_ohm));
  const DbExtremes reactive = extremes_over_reactance(from, to, 1 / lowest_ohm);
  found.include(reactive.lowest_db);
  found.include(reactive.highest_db);
  return found;
}

Array open_ratio_db(const TheveninSamples& from, const TheveninSamples& to, Eigen::Index count) {
  Array db = Array::Zero(count);
  if (to.open_ratio.size() > 0) db += 10 * to.open_ratio.abs2().log10();
  if (from.open_ratio.size() > 0) db -= 10 * from.open_ratio.abs2().log10();
  return db;
}

}  // namespace

Array DeviationGrid::all_hz() const {
  Array all(grid_hz.size() + anchor_hz.size());
  all << grid_hz, anchor_hz;
  return all;
}

TheveninSamples head(const TheveninSamples& samples, Eigen::Index count) {
  if (samples.open_ratio.size() == 0) return {samples.output_ohm.head(count), {}};
  return {samples.output_ohm.head(count), samples.open_ratio.head(count)};
}

DeviationGrid deviation_grid(const Band& band, Eigen::Index points, const Anchor& anchor,
                             const Band& data) {
  DeviationGrid grid{log_grid(overlap(band, data), points), anchor_frequencies(anchor), anchor};
  check_anchor(grid.anchor_hz, data);
  return grid;
}

double reference_hz(const DeviationGrid& grid) {
  const double first = grid.grid_hz[0];
  const double last = grid.grid_hz[grid.grid_hz.size() - 1];
  return std::visit(Overloaded{[](const AnchorFrequency& a) { return a.hz; },
                               [](const AnchorBand& a) { return std::sqrt(a.low_hz * a.high_hz); },
                               [&](const NoAnchor&) { return std::clamp(1000.0, first, last); }},
                    grid.anchor);
}

Deviation deviation(const DeviationGrid& grid, const ComplexArray& load_ohm,
                    const TheveninSamples& from, const TheveninSamples& to) {
  const Array change_db =
      10 * (inverse_loop_power(load_ohm, to) / inverse_loop_power(load_ohm, from)).log10();
  Deviation result;
  result.level_change_db = at_anchor(grid, change_db);
  const Eigen::Index points = grid.grid_hz.size();
  result.deviation_db = change_db.head(points) - result.level_change_db;
  result.bound_db =
      worst_span_db(load_ohm.head(points).abs().minCoeff(), head(from, points), head(to, points));
  describe(grid, result);
  return result;
}

double worst_span_db(double lowest_ohm, const TheveninSamples& from, const TheveninSamples& to) {
  const Array open_db = open_ratio_db(from, to, from.output_ohm.size());
  DbExtremes all, here;
  for (Eigen::Index i = 0; i < open_db.size(); ++i) {
    const bool same = i > 0 && from.output_ohm[i] == from.output_ohm[i - 1] &&
                      to.output_ohm[i] == to.output_ohm[i - 1];  // resistances are, everywhere
    if (!same) here = extremes_over_loads(from.output_ohm[i], to.output_ohm[i], lowest_ohm);
    all.include(open_db[i] + here.lowest_db);
    all.include(open_db[i] + here.highest_db);
  }
  return all.highest_db - all.lowest_db;
}

DeviationSummaries::DeviationSummaries(const DeviationGrid& grid, const ComplexArray& load_ohm,
                                       const TheveninSamples& from)
    : grid_(grid),
      load_ohm_(load_ohm),
      from_loop_power_(inverse_loop_power(load_ohm, from).inverse()) {}

DeviationSummary DeviationSummaries::against(const TheveninSamples& to) const {
  const Array change = inverse_loop_power(load_ohm_, to) * from_loop_power_;
  const auto on_grid = change.head(grid_.grid_hz.size());
  const double level_db = at_anchor(grid_, 10 * change.tail(grid_.anchor_hz.size()).log10());
  return {level_db, db_from_power(on_grid.maxCoeff()) - level_db,
          db_from_power(on_grid.minCoeff()) - level_db};
}

DeviationBand guaranteed_band(const DeviationGrid& grid, const Array& magnitude_ohm,
                              const TheveninSamples& from, const TheveninSamples& to) {
  const Eigen::Index count = magnitude_ohm.size();
  Array lowest_db(count);
  Array highest_db(count);
  for (Eigen::Index i = 0; i < count; ++i) {
    const auto found = extremes_over_phase(Affine(from.output_ohm[i], magnitude_ohm[i]),
                                           Affine(to.output_ohm[i], magnitude_ohm[i]));
    lowest_db[i] = found.lowest_db;
    highest_db[i] = found.highest_db;
  }
  const Array open_db = open_ratio_db(from, to, count);
  lowest_db += open_db;
  highest_db += open_db;
  const Eigen::Index points = grid.grid_hz.size();
  return {lowest_db.head(points) - at_anchor(grid, highest_db),
          highest_db.head(points) - at_anchor(grid, lowest_db)};
}

}  // namespace ohmtilt
