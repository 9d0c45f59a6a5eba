#include <ohmtilt/hearing/hearing_threshold.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <span>

namespace ohmtilt {
namespace {

struct Row {
  double hz, db;
};

// ISO 389-2:1994, insert earphones, occluded-ear simulator; read in three public transcriptions of
// one origin.
constexpr std::array<Row, 23> insert_low{
    {{125, 28.0},  {160, 24.5},  {200, 21.5},  {250, 17.5},  {315, 15.5},  {400, 13.0},
     {500, 9.5},   {630, 7.5},   {750, 6.0},   {800, 5.5},   {1000, 5.5},  {1250, 8.5},
     {1500, 9.5},  {1600, 9.5},  {2000, 11.5}, {2500, 13.5}, {3000, 13.0}, {3150, 13.0},
     {4000, 15.0}, {5000, 18.5}, {6000, 16.0}, {6300, 16.0}, {8000, 15.5}}};

// ISO 389-5:2006, the same above 8 kHz, with another type of insert earphone.
constexpr std::array<Row, 7> insert_high{
    {{8000, 19}, {9000, 16}, {10000, 20}, {11200, 30.5}, {12500, 37}, {14000, 43.5}, {16000, 53}}};

// ISO 389-7:2019, free field, frontal; two independent public transcriptions.
constexpr std::array<Row, 38> free_field{
    {{20, 78.1},    {25, 68.7},   {31.5, 59.5},  {40, 51.1},    {50, 44.0},    {63, 37.5},
     {80, 31.5},    {100, 26.5},  {125, 22.1},   {160, 17.9},   {200, 14.4},   {250, 11.4},
     {315, 8.6},    {400, 6.2},   {500, 4.4},    {630, 3.0},    {750, 2.4},    {800, 2.2},
     {1000, 2.4},   {1250, 3.5},  {1500, 2.4},   {1600, 1.7},   {2000, -1.3},  {2500, -4.2},
     {3000, -5.8},  {3150, -6.0}, {4000, -5.4},  {5000, -1.5},  {6000, 4.3},   {6300, 6.0},
     {8000, 12.6},  {9000, 13.9}, {10000, 13.9}, {11200, 13.0}, {12500, 12.3}, {14000, 18.4},
     {16000, 40.2}, {18000, 70.4}}};

std::optional<double> in_table(std::span<const Row> rows, double hz) {
  if (!(hz >= rows.front().hz && hz <= rows.back().hz)) return std::nullopt;
  const auto above =
      std::find_if(rows.begin(), rows.end(), [&](const Row& r) { return r.hz >= hz; });
  if (above->hz == hz) return above->db;
  const Row& below = *(above - 1);
  const double part = std::log(hz / below.hz) / std::log(above->hz / below.hz);
  return below.db + part * (above->db - below.db);
}

}  // namespace

std::optional<double> hearing_threshold_db(HearingThreshold threshold, double hz) {
  if (threshold == HearingThreshold::free_field) return in_table(free_field, hz);
  const auto low = in_table(insert_low, hz);
  return low ? low : in_table(insert_high, hz);
}

}  // namespace ohmtilt
