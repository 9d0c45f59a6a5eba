#pragma once
// Which values of a chain and of an earphone's circuit may be given another number.
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/circuit/stock.h>

namespace ohmtilt {

/// A value of a pad, a series stage, a transformer, or of a part of a circuit.
struct TunableValue {
  std::string part;  ///< "stage 1: pad.series", "stage 2: circuit.R1", "earphone.C1"
  std::string key;   ///< "ohm", "henry", "farad", ...
  double value = 0;
  std::optional<std::size_t> stage;  ///< nothing: of the earphone's circuit
  std::size_t arm = 0;               ///< of a pad or a series stage: which of its values
  ValueIndex index;                  ///< in a circuit
};

/// All of them, in the order of the files.
std::vector<TunableValue> tunable_values(const Chain& chain, const Earphone& earphone);

/// The one that a person names: its part or the end of its name ("R1" for "stage 2: circuit.R1"),
/// with a dot and the key where the part has several. Throws InputError naming those there are when
/// that is none or more than one.
TunableValue tunable_value(const std::vector<TunableValue>& values, std::string_view name);

/// A value that can be had; ohm: of the winding that such a coil has, where it is known.
struct ValueChoice {
  double value = 0;
  std::optional<double> ohm;
};

/// What may move, and to where: one number for all of values.
struct Move {
  std::string name;  ///< as the user wrote it
  std::vector<TunableValue> values;
  double low = 0, high = 0;          ///< 0 < low < high
  std::vector<ValueChoice> choices;  ///< rising; empty: any number from low to high
};

/// From a preferred series, low and high counted.
std::vector<ValueChoice> series_choices(Series series, double low, double high);
/// From the parts of a stock list: resistors for a key that ends in "ohm", coils for one that ends
/// in "henry", capacitors for one that ends in "farad". Empty where it has none in the range.
std::vector<ValueChoice> stock_choices(const Stock& stock, std::string_view key, double low,
                                       double high);

/// What a move is set to.
struct Setting {
  double value = 0;
  std::optional<double> ohm;  ///< of a coil's winding
};

/// Chain and earphone with the moves so set. A coil whose winding is not stated keeps the ratio of
/// its ohms to its inductance. Throws InputError for what is not physical.
struct TunedSubject {
  Chain chain;
  Earphone earphone;
};
TunedSubject tuned(const TunedSubject& subject, const std::vector<Move>& moves,
                   const std::vector<Setting>& settings);

/// The part with the value so set, and the ohms of the winding with it.
Part with_setting(Part part, std::size_t value, const Setting& setting);

/// Chain, earphone and the e.m.f. of 1 V as one circuit; port "earphone" (the terminals) first,
/// port "amplifier". An earphone that is a circuit stands in it part by part ("earphone.C1") behind
/// a voltage-source of 0 V called "into the earphone".
Circuit whole_circuit(const TunedSubject& subject);
inline constexpr const char* amplifier_emf = "source.emf";
inline constexpr const char* into_earphone = "into the earphone";

/// Where a tunable value stands in whole_circuit().
std::vector<ValueIndex> places_in(const Circuit& whole, const TunableValue& value);

}  // namespace ohmtilt
