#pragma once
#include <array>

namespace ohmtilt::cli {

/// What can hurt ears or devices while something is measured, in text, help and JSON.
inline constexpr std::array<const char*, 4> acquire_cautions{
    "take the earphones off the ears before anything plays; start at the lowest level and raise it "
    "slowly",
    "use line inputs, never a microphone input with supply voltage (plug-in power, 48 V phantom "
    "power: switch it off): it drives direct current through the earphone",
    "keep an amplifier's output below the input's limit; it can exceed a line input and damage it",
    "never connect an output that carries a bias voltage, nor a bridged output whose return is not "
    "ground, to a sound card's inputs"};

}  // namespace ohmtilt::cli
