#pragma once
// Rational approximation of sampled responses by vector fitting.
#include <ohmtilt/base/frequency_grid.h>
#include <ohmtilt/model/rational_model.h>

#include <string>
#include <vector>

namespace ohmtilt {

struct VectorFitOptions {
  /// Poles to start from, rad/s; of each pair one member, Im > 0. Empty: order() of them as complex
  /// pairs (and one real for an odd order) spaced in ln f over the data, Re = -Im/100.
  std::vector<Complex> starting_poles;
  int order = 8;              ///< poles in all when starting_poles is empty; 1 to points
  int iterations = 12;        ///< most relocations of the poles, >= 1
  double settled = 1e-10;     ///< stop when no pole moves by more, relative to its size
  bool constant = true;       ///< fit the constant too
  bool proportional = false;  ///< fit the term proportional to s too
  bool relative = false;      ///< weight each sample with 1/|f| instead of 1
};

struct VectorFit {
  enum class Stop { not_run, poles_settled, iterations_used };
  RationalModel model;
  Stop stop = Stop::not_run;
  int iterations = 0;       ///< relocations done
  double rms = 0;           ///< root mean square of |fit - sample|, in the samples' unit
  double largest = 0;       ///< largest |fit - sample|
  std::string why() const;  ///< the stop in words
};

/// Fits f(s) = constant + proportional s + sum residue/(s - pole) to complex samples at hz by pole
/// relocation: [Gustavsen1999], in
/// the formulation with real coefficients; poles that come out unstable are mirrored.
/// Throws InputError for lengths that differ, too few samples, or a starting pole at Re >= 0.
VectorFit vector_fit(const Array& hz, const ComplexArray& samples,
                     const VectorFitOptions& options = {});

/// Where Re Z(j w) is negative: one entry an interval, with its lowest point.
struct PassivityViolation {
  Band band;  ///< high_hz is infinite where it never ends
  double worst_hz = 0;
  double worst_ohm = 0;  ///< Re Z there, negative
};
struct Passivity {
  bool passive = false;  ///< no violation, proportional term >= 0, no pole at Re > 0
  std::vector<PassivityViolation> violations;
};

/// Tests Re Z(jw) >= 0 at all w: the crossings are the eigenvalues of (A - b c/d) A, half the size
/// of the Hamiltonian [Semlyen2009], and
/// Re Z is looked at between them and on a dense grid around every pole.
Passivity passivity(const RationalModel& model);

struct PassivityEnforcement {
  enum class Stop { not_run, already_passive, residues_changed, constant_raised };
  RationalModel model;
  Stop stop = Stop::not_run;
  int iterations = 0;
  double largest_change_ohm = 0;  ///< largest |change of Z| on hz
};

/// The model made passive by the smallest change of its residues and constant, in the mean square
/// over hz, that lifts Re Z to zero where it is lowest, repeated; and if that does not end, by
/// raising the constant. Poles stay. Throws InputError for a pole at Re > 0 or a proportional term
/// < 0.
PassivityEnforcement enforce_passivity(const RationalModel& model, const Array& hz);

}  // namespace ohmtilt
