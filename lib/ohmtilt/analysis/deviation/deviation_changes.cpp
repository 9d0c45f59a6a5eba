#include <ohmtilt/analysis/deviation/deviation_changes.h>
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/circuit/solver.h>

#include <algorithm>
#include <cmath>

namespace ohmtilt {
namespace {

/// What the deviation is made of, sampled on grid.all_hz().
struct Sampled {
  ComplexArray load_ohm;
  TheveninSamples from, to;
};

class Changes {
 public:
  Changes(const DeviationGrid& grid, Sampled nominal, double percent)
      : grid_(grid), nominal_(std::move(nominal)), percent_(percent), before_(of(nominal_)) {}

  void add_earphone(const Earphone& earphone) {
    Sampled now = nominal_;
    if (!earphone.circuit) {
      now.load_ohm *= 1 + percent_ / 100;
      return add(ChangeOf::earphone, {earphone.title, "impedance", percent_}, now);
    }
    NodalSystem system(*earphone.circuit, grid_.all_hz());
    for_each_change(system, percent_, [&](const ChangedValue& changed) {
      now.load_ohm = driving_point(system, earphone.circuit->port());
      add(ChangeOf::earphone, changed, now);
    });
  }

  void add_source(ChangeOf which, const TheveninSource& source) {
    Sampled now = nominal_;
    TheveninSamples& samples = which == ChangeOf::from ? now.from : now.to;
    if (!source.chain) {
      if ((samples.output_ohm == 0.0).all()) return;
      samples.output_ohm *= 1 + percent_ / 100;
      return add(which, {source.label, "impedance", percent_}, now);
    }
    const Circuit circuit(chain_circuit(*source.chain));
    NodalSystem system(circuit, grid_.all_hz());
    for_each_change(system, percent_, [&](const ChangedValue& changed) {
      const TheveninPort port = thevenin(system, circuit.port("earphone"));
      samples = {port.impedance_ohm, port.open_volt};
      add(which, changed, now);
    });
  }

  std::vector<DeviationChange> take() {
    std::stable_sort(changes_.begin(), changes_.end(), [](const auto& a, const auto& b) {
      return std::abs(a.span_db) > std::abs(b.span_db);
    });
    return std::move(changes_);
  }

 private:
  Deviation of(const Sampled& sampled) const {
    return deviation(grid_, sampled.load_ohm, sampled.from, sampled.to);
  }

  void add(ChangeOf which, const ChangedValue& changed, const Sampled& now) {
    const Deviation after = of(now);
    DeviationChange change{
        which, changed, after.deviation_db - before_.deviation_db, after.span_db - before_.span_db,
        0,     0};
    Eigen::Index at = 0;
    change.deviation_db.abs().maxCoeff(&at);
    change.peak_db = change.deviation_db[at];
    change.peak_hz = grid_.grid_hz[at];
    changes_.push_back(std::move(change));
  }

  const DeviationGrid& grid_;
  Sampled nominal_;
  double percent_;
  Deviation before_;
  std::vector<DeviationChange> changes_;
};

}  // namespace

const char* to_string(ChangeOf of) {
  return of == ChangeOf::earphone ? "earphone" : of == ChangeOf::from ? "from" : "to";
}

std::vector<DeviationChange> deviation_changes(const DeviationGrid& grid, const Earphone& earphone,
                                               const TheveninSource& from, const TheveninSource& to,
                                               double percent) {
  const Array hz = grid.all_hz();
  Changes changes(grid, {earphone.impedance.at(hz), from.at(hz), to.at(hz)}, percent);
  changes.add_earphone(earphone);
  changes.add_source(ChangeOf::from, from);
  changes.add_source(ChangeOf::to, to);
  return changes.take();
}

}  // namespace ohmtilt
