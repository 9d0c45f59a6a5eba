#pragma once
// What --write makes of a network's or an impedance's name: .s2p, .s1p, .csv.
#include <filesystem>
#include <string>
#include <vector>

#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/circuit.h>
#include <ohmtilt/curve/impedance_curve.h>

namespace ohmtilt::cli {

bool is_two_port_name(const std::string& file);  ///< ends in .s2p
bool is_one_port_name(const std::string& file);  ///< ends in .s1p
bool is_curve_name(const std::string& file);     ///< is_one_port_name(), or ends in .csv

/// A file's name in another file of that folder `from`, as one in the folder `to` has to write it.
std::string moved_file(const std::string& file, const std::filesystem::path& from,
                       const std::filesystem::path& to);
/// The chain with all files that it names written as a chain file at place has to.
Chain moved_chain(const Chain& chain, const std::filesystem::path& place);

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
