#pragma once
// Modes refined on Z(s) + Zs(s) of the circuits themselves, k s^n and all.
#include <ohmtilt/analysis/damping/mode_table.h>

#include <vector>

namespace ohmtilt {

/// A rational model that is good along the frequency axis is off far from it: for modes of low Q by
/// some percent. This moves the modes of a table to the zeros of the circuits' own Z + Zs.
class ModeRefinement {
 public:
  ModeRefinement(const DampingEarphone& earphone, const std::vector<DampingSource>& sources);

  /// Moves the complex pairs in band, at all conditions and these rows of table.tracks, to the
  /// zeros of the circuits, each to 1e-9 of its frequency, and gives what is in band then. A pair
  /// whose way from the model's zero to the circuit's leaves the plane through the negative real
  /// axis, where s^n is not continuous, is no mode of the circuit: it goes to -infinity. Pairs that
  /// are real (Q of 0.5 or less) stay those of the model.
  std::vector<ModePair> refine(ModeTable& table, const Band& band,
                               const std::vector<Eigen::Index>& rows = {}) const;

  /// The same of these pairs behind resistances: one row of tracks a resistance.
  void refine_tracks(Eigen::ArrayXXcd& tracks, const Array& source_ohm,
                     const std::vector<ModePair>& pairs) const;

 private:
  const DampingEarphone& earphone_;
  const std::vector<DampingSource>& sources_;
  bool needed_;  ///< something is approximated; else the table is exact as it is
};

}  // namespace ohmtilt
