#pragma once
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/thevenin_source.h>

namespace ohmtilt {

/// What an amplifier's e.m.f. of 1 V (rms) does through its stages into an earphone: the quantities
/// that levels, limits and noise are worked out from. One value a frequency.
struct ChainDrive {
  Array hz;
  ComplexArray load_ohm;
  ComplexArray output_ohm;  ///< at the earphone's terminals
  ComplexArray input_ohm;   ///< that the amplifier sees behind its own output impedance
  Array terminal_volt;      ///< at the earphone
  Array terminal_ampere;    ///< into the earphone
  Array source_ampere;      ///< out of the amplifier, before the stages
};

/// The same earphone with its impedance at hz (any order), 1 kHz and the sensitivity's frequency
/// worked out ahead, once: a circuit costs a solution whenever it is asked.
Earphone sampled(const Earphone& earphone, const Array& hz);

/// The same earphone with a resistance in place of its impedance.
Earphone with_resistance(Earphone earphone, double ohm);

/// A chain as its earphone sees it, and as the amplifier alone would be: each is solved once for a
/// grid, however often it is asked (base/remembered.h).
struct SolvedChain {
  SolvedChain(const Chain& of);  // NOLINT: a chain may be given wherever a solved one is taken
  Chain chain;
  TheveninSource terminals, amplifier;
};

/// hz within what chain and earphone are known for; throws InputError as the solver does.
ChainDrive drive(const SolvedChain& chain, const Earphone& earphone, const Array& hz);

/// What of the band all data reach (impedance, response, output); cut says so in words, or is
/// empty. Throws InputError where that is nothing.
struct KnownBand {
  Band band;
  std::vector<std::string> cut;
};
KnownBand known_band(const SolvedChain& chain, const Earphone& earphone, const Band& asked);

}  // namespace ohmtilt
