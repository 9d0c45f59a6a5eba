#pragma once
// --stock and --series: what parts there are; --parts: what has to be bought for a network, as a
// table.
#include <optional>
#include <string>
#include <vector>

#include <ohmtilt/circuit/circuit.h>
#include <tools/ohmtilt/program/command.h>

namespace ohmtilt::cli {

/// One part, or several alike.
struct ListedPart {
  std::string name, kind;
  double value = 0;
  std::string unit;                  ///< "ohm", "henry", "farad"
  std::optional<double> series_ohm;  ///< of a coil's winding or in series with a capacitor
  double tolerance_percent = 0;
  std::optional<double> milliwatt, rating_watt;  ///< heat, and what it asks for
};

/// Resistors, coils and capacitors of a circuit; other parts are named without a value.
std::vector<ListedPart> listed_parts(const Circuit& circuit);
/// A row for all that are alike: count, names, kind, value, unit, code, series_ohm,
/// tolerance_percent, milliwatt, rating_watt.
std::string parts_csv(const std::vector<ListedPart>& parts);

/// --series and --stock: which values there are for resistors, coils and capacitors.
void add_stock_options(Command& command, std::optional<std::string>& series,
                       std::optional<std::string>& stock);
/// Throws InputError where both were given.
void refuse_stock_and_series(bool stock, bool series);

/// The option --parts.
void add_parts_option(Command& command, std::optional<std::string>& file);

}  // namespace ohmtilt::cli
