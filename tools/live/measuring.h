#pragma once
// What the page asks while it measures with a sound card.
#include <map>
#include <string>
#include <vector>

#include <tools/live/reply.h>

namespace ohmtilt::live {

using Words = std::map<std::string, std::vector<std::string>>;  ///< by key, in the order given

/// Makes samples (floats, channels interleaved, full scale = 1) the recording of that name.
void give_sound(const std::string& name, double rate_hz, int channels, std::vector<float> samples);
void take_sounds_away();

/// The words of the command about what can hurt ears or devices.
void answer_measuring_cautions(Reply& reply);
/// The sound to play, of "rate", "seconds" and "level"; it is kept as the stimulus.
void answer_stimulus(const Words& words, Reply& reply);
/// What one recording ("name", of "step" same, short or earphone) holds: levels and what is wrong.
void answer_recorded(const Words& words, Reply& reply);
/// The curve of one or more "recording"s with "same", "short", "reference" and "tolerance".
void answer_impedance(const Words& words, Reply& reply);
/// Two curves that were measured.
void answer_sides(const std::string& first, const std::string& second, Reply& reply);

}  // namespace ohmtilt::live
