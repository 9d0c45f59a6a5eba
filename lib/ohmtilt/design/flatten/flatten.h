#pragma once
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/analysis/tolerance/tolerance.h>
#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/stock.h>

namespace ohmtilt {

/// Resistor, coil and capacitor in series, together across the earphone's terminals.
struct FlattenBranch {
  double ohm = 0;  ///< of the resistor, beside what the coil has itself; 0: there is none
  std::optional<double> henry;
  double coil_ohm = 0;
  std::optional<double> farad;
};

/// Impedance in ohm of one branch at hz.
ComplexArray branch_ohm(const FlattenBranch& branch, const Array& hz);
/// Impedance in ohm of load_ohm with all branches across it.
ComplexArray flattened_ohm(const ComplexArray& load_ohm, const std::vector<FlattenBranch>& branches,
                           const Array& hz);

struct FlattenOptions {
  Band band;
  Eigen::Index points = 480;        ///< 16 <= points
  double source_ohm = 10;           ///< > 0: every resistive source up to it
  double limit_db = 1;              ///< > 0: the span to keep within
  int branches = 4;                 ///< at most, 1 to 6
  std::optional<double> least_ohm;  ///< the terminals never fall below it; nothing: half of |Z|min
  Series resistors = Series::E24;
  Series coils_and_capacitors = Series::E12;
  std::optional<Stock> stock;       ///< in place of preferred values
  bool coils = true;                ///< may be used
  double largest_henry = 0.1;       ///< > 0
  double largest_farad = 1e-3;      ///< > 0
  double least_worth_db = 0.05;     ///< >= 0: a part that lowers the span by less is left out
  double coil_ohm_per_henry = 300;  ///< own resistance of a coil (common practice, no source)
  double tolerance_percent = 5;     ///< of every part
  double variation_percent = 10;    ///< of the earphone, in ohm and in hertz
  long samples = 400;               ///< draws of the parts
  std::uint64_t seed = 1;
};

/// The L pad that keeps the same span behind the largest source and loads it no more than the
/// network does.
struct PadInstead {
  double series_ohm = 0, shunt_ohm = 0, output_ohm = 0, attenuation_db = 0, input_min_ohm = 0;
};

struct Flattening {
  std::vector<FlattenBranch> branches;           ///< of parts that can be had
  bool reached = false;                          ///< span_after_db is within the limit
  double span_before_db = 0, span_after_db = 0;  ///< the largest over all sources up to source_ohm
  double min_ohm_before = 0, min_ohm_after = 0, least_ohm = 0;
  double extra_current_ratio = 1;  ///< most current at the terminals, after over before
  double loss_db = 0;              ///< at 1 kHz behind the largest source, more than without it
  double tolerance_p95_db = 0;     ///< 95 % of the span with the parts' tolerance
  double variation_db = 0;         ///< the largest span when the earphone varies
  std::optional<PadInstead> pad;   ///< nothing when no pad is needed or none does it
  bool pad_does_better = false;    ///< it costs no more than 1 dB beyond the network's loss
  Array hz;
  ComplexArray before_ohm, after_ohm;
  Array source_ohm, over_source_before_db, over_source_after_db;
};

/// A network of branches, each of a resistor, a coil and a capacitor in series or fewer of them,
/// that makes |Z| flat: as few branches as keep the limit, or the best of all that were tried, less
/// the parts that are worth nothing. Starts are the dual network of the model fitted to the curve,
/// and the best networks of one branch less with one more where |Z| is highest, whose values are
/// moved together (Levenberg and Marquardt; [Hooke1961]); beside them, the best networks
/// of one branch less with every branch that the parts make. Values that can be had are then sought
/// jointly (PartSearch): one branch of preferred values up to E24 and E12, and two of a short stock
/// list, are the best there are; more branches are a network that no change of one branch betters
/// and no small one of two. The floor alone forbids nothing: as long as it is no more than |Z|min,
/// 1/least_ohm - 1/Z has no negative real part, so some passive network makes the terminals
/// least_ohm throughout; what limits the result is the number and the kind of branches. Throws
/// InputError for options out of bounds and where there are no parts to build from.
Flattening flatten(const Earphone& earphone, const FlattenOptions& options);

/// What a given network does: all of Flattening but the search. Its floor is not checked.
Flattening flattening_of(const Earphone& earphone, std::vector<FlattenBranch> branches,
                         const FlattenOptions& options);

/// The largest span in dB over resistive sources up to source_ohm > 0, instead of an ideal one.
double worst_span_db(const ComplexArray& load_ohm, double source_ohm);

/// The network as a circuit whose ports "in" and "out" are the same two terminals.
Circuit flatten_circuit(const std::vector<FlattenBranch>& branches, double tolerance_percent,
                        const std::string& title);

}  // namespace ohmtilt
