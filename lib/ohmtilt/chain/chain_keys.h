#pragma once
// The keys of [source] and of stages that hold a value each: one table by which they are read,
// checked and written.
#include <array>
#include <iterator>
#include <optional>
#include <string>
#include <type_traits>
#include <variant>
#include <vector>

#include <ohmtilt/chain/chain.h>

namespace ohmtilt {

/// What a number may be. Every one but 0 is physical in magnitude; decibels lie within +-300.
enum class ChainRange { any, not_negative, positive, decibels };

/// What a key of each may fill, and no more: GCC 12 warns of what would lie outside.
template <class Of>
struct ChainMember {
  using type = std::variant<double Of::*>;
};
template <>
struct ChainMember<Cable> {
  using type = std::variant<double Cable::*, std::optional<double> Cable::*>;
};
template <>
struct ChainMember<Source> {
  using type = std::variant<double Source::*, std::optional<double> Source::*, bool Source::*,
                            std::vector<double> Source::*, NoiseWeighting Source::*>;
};

/// A key and the member that it fills. Where a file does not say it, a number is 0, a flag is off
/// and a list empty, and so they are left out when written.
template <class Of>
struct ChainKey {
  const char* key;
  typename ChainMember<Of>::type member;
  ChainRange range = ChainRange::any;
  bool resistance = false;  ///< may be written as an IEC 60062 code
  bool required = false;    ///< of a number: a file has to say it
  const char* beside = "";  ///< an optional number without which it says nothing
};

/// In the order of FILES.md; empty for what has none.
template <class Of>
inline constexpr auto chain_keys = std::array<ChainKey<Of>, 0>{};

/// Its output_ohm, output_curve, volume and power stand apart.
template <>
inline constexpr auto chain_keys<Source> = std::to_array<ChainKey<Source>>(
    {{"output_farad", &Source::output_farad, ChainRange::positive},
     {"output_henry", &Source::output_henry, ChainRange::not_negative},
     {"balanced", &Source::balanced},
     {"open_volt", &Source::open_volt, ChainRange::positive},
     {"max_ampere", &Source::max_ampere, ChainRange::positive},
     {"gain_db", &Source::gain_db, ChainRange::decibels},
     {"input_volt", &Source::input_volt, ChainRange::positive},
     {"noise_volt", &Source::noise_volt, ChainRange::not_negative},
     {"noise_weighting", &Source::noise_weighting, ChainRange::any, false, false, "noise_volt"},
     {"noise_corner_hz", &Source::noise_corner_hz, ChainRange::not_negative, false, false,
      "noise_volt"},
     {"bias_volt", &Source::bias_volt},
     {"shared_return_ohm", &Source::shared_return_ohm, ChainRange::not_negative, true}});

template <>
inline constexpr auto chain_keys<SeriesStage> = std::to_array<ChainKey<SeriesStage>>(
    {{"ohm", &SeriesStage::ohm, ChainRange::not_negative, true, true},
     {"henry", &SeriesStage::henry, ChainRange::not_negative}});

template <>
inline constexpr auto chain_keys<Cable> = std::to_array<ChainKey<Cable>>(
    {{"conductor_ohm", &Cable::conductor_ohm, ChainRange::not_negative, true, true},
     {"shared_return_ohm", &Cable::shared_return_ohm, ChainRange::not_negative, true},
     {"henry", &Cable::henry, ChainRange::not_negative},
     {"farad", &Cable::farad, ChainRange::not_negative}});

template <>
inline constexpr auto chain_keys<TransformerStage> = std::to_array<ChainKey<TransformerStage>>(
    {{"ratio", &TransformerStage::ratio, ChainRange::positive, false, true},
     {"series_ohm", &TransformerStage::series_ohm, ChainRange::not_negative, true}});

/// Source, or a stage that consists of such keys alone.
template <class Of>
concept HasChainKeys = (std::size(chain_keys<std::remove_const_t<Of>>) > 0);

/// Calls use(key, value) with each key of the table and the member of `of` that it fills.
template <HasChainKeys Of, class Use>
void each_chain_key(Of& of, const Use& use) {
  for (const auto& key : chain_keys<std::remove_const_t<Of>>)
    std::visit([&](auto member) { use(key, of.*member); }, key.member);
}

}  // namespace ohmtilt
