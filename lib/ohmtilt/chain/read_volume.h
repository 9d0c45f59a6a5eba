#pragma once
#include <filesystem>

#include <ohmtilt/chain/volume_law.h>
#include <ohmtilt/curve/read_curve.h>
#include <ohmtilt/text/strict_toml.h>

namespace ohmtilt {

/// The law that a [source.volume] table describes, with `step_db` or the table `file` that it
/// needs. Throws InputError at the key's place, or the table's row.
Read<VolumeLaw> read_volume_law(const TomlTable& table, const std::filesystem::path& folder);

}  // namespace ohmtilt
