#pragma once
// What --write makes of a network's or an impedance's name: .s2p, .s1p, .csv.
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt::cli {

bool is_two_port_name(const std::string& file);  ///< ends in .s2p
bool is_one_port_name(const std::string& file);  ///< ends in .s1p
bool is_curve_name(const std::string& file);     ///< is_one_port_name(), or ends in .csv

/// The text of a curve's file as its name has it. Throws InputError.
std::string written_curve(const ImpedanceCurve& curve, const std::string& file);

/// The stages of a chain without its amplifier: what a two-port file takes of it. Ports "amplifier"
/// and "earphone". Throws InputError for a chain without stages.
Circuit stages_between(const Chain& chain);
/// What a two-port cannot say of a chain, in sentences.
std::vector<std::string> lost_in_two_port(const Chain& chain);
/// The text of one pad as a two-port.
std::string pad_two_port_text(const Pad& pad, const std::string& title, const Band& band,
                              Eigen::Index points);

}  // namespace ohmtilt::cli
