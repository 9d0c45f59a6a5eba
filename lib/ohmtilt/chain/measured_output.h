#pragma once
#include <filesystem>
#include <string>

#include <ohmtilt/curve/one_port.h>
#include <ohmtilt/curve/read_curve.h>

namespace ohmtilt {

/// A source's output impedance from the file of its curve.
struct MeasuredOutput {
  std::string title;
  OnePort impedance;
};

/// Throws what read_impedance() does; a curve without a phase gets its minimum phase, with a
/// warning.
Read<MeasuredOutput> read_measured_output(const std::filesystem::path& file);

}  // namespace ohmtilt
