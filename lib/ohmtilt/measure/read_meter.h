#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include <ohmtilt/measure/readings.h>
#include <ohmtilt/measure/source_impedance.h>

namespace ohmtilt {

/// A table of meter readings with columns frequency_hz and any of volt_both, volt_load,
/// volt_reference, ampere; without a header three columns are frequency_hz, volt_both, volt_load.
/// Sorted by frequency. Throws InputError with the place of an unknown column or a bad number.
MeterReadings read_meter_readings(const std::filesystem::path& file,
                                  std::vector<std::string>& warnings);

/// A table of load_ohm and volt (open output: load inf or open), with frequency_hz first where it
/// was read over frequency; without a header the columns stand in this order. One entry a
/// frequency, rising; a table without frequency gives one entry with frequency_hz = 0.
std::vector<SourceReadings> read_source_readings(const std::filesystem::path& file,
                                                 std::vector<std::string>& warnings);

}  // namespace ohmtilt
