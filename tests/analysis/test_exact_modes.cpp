// Resonances of circuits with half-order coils, which no rational model has exactly: each is a zero
// of Z(s) + Zs(s) with s^(1/2) as it stands, and none is missing.
#include <ohmtilt/analysis/damping/damping.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <random>
#include <utility>

#include "tests/analysis/sources.h"
#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

/// Resistor, capacitor (none: 0), and an armature with a half-order coil (coil_k 0: none) or, with
/// peak_ohm 0, a notch of R, L and C. Z(s) is worked out here, apart from the library's solver.
struct Branch {
  double ohm = 0, farad = 0, henry = 0, coil_k = 0, hz = 0, q = 0, peak_ohm = 0;

  Complex z(Complex s) const {
    Complex z = ohm + henry * s + coil_k * std::sqrt(s);
    if (farad > 0) z += 1.0 / (farad * s);
    if (peak_ohm == 0) return z;
    const double w0 = 2 * pi * hz;
    return z + peak_ohm / (1.0 + q * (s / w0 + w0 / s));
  }

  /// dc_ohm is 1 of ohm where there is a driver.
  void add(std::vector<Part>& parts, const std::string& name) const {
    std::string here = "a";
    const auto next = [&](const std::string& node) { return std::exchange(here, name + node); };
    const double dc_ohm = peak_ohm > 0 ? 0.5 * ohm : 0;
    std::string from = next("1");
    parts.push_back(resistor(name + "-R", from, here, ohm - dc_ohm));
    if (farad > 0) {
      from = next("2");
      parts.push_back(capacitor(name + "-C", from, here, farad));
    }
    if (peak_ohm == 0) {
      parts.push_back(inductor(name + "-L", here, "0", henry));
      return;
    }
    if (coil_k > 0) {
      parts.push_back(named_part(PartKind::armature_driver, name, {here, "0"},
                                 {{"dc_ohm", dc_ohm},
                                  {"coil_henry", henry},
                                  {"coil_k", coil_k},
                                  {"resonance.1.hz", hz},
                                  {"resonance.1.q", q},
                                  {"resonance.1.peak_ohm", peak_ohm}}));
      return;
    }
    from = next("3");
    parts.push_back(inductor(name + "-L", from, here, henry, dc_ohm));
    parts.push_back(resistor(name + "-res R", here, "0", peak_ohm));
    parts.push_back(inductor(name + "-res L", here, "0", peak_ohm / (2 * pi * hz * q)));
    parts.push_back(capacitor(name + "-res C", here, "0", q / (2 * pi * hz * peak_ohm)));
  }
};

struct Parallel {
  double cable_ohm = 0.35;
  std::vector<Branch> branches;

  Complex z(Complex s) const {
    Complex siemens = 0;
    for (const auto& branch : branches) siemens += 1.0 / branch.z(s);
    return cable_ohm + 1.0 / siemens;
  }
  DampingEarphone earphone() const {
    std::vector<Part> parts{resistor("cable", "in", "a", cable_ohm)};
    for (std::size_t i = 0; i < branches.size(); ++i)
      branches[i].add(parts, "b" + std::to_string(i + 1));
    return damping_earphone(earphone_from_circuit(circuit_of(std::move(parts))));
  }
};

/// Z + R, or 1/Z for an open earphone, whose zeros are asked for.
Complex loop(const Parallel& circuit, Complex s, double ohm) {
  return std::isinf(ohm) ? 1.0 / circuit.z(s) : circuit.z(s) + ohm;
}

/// What a Newton step would still change, relative to s.
double relative_error(const Parallel& circuit, Complex s, double ohm) {
  const double h = 1e-5;
  const Complex slope =
      (loop(circuit, s * (1 + h), ohm) - loop(circuit, s * (1 - h), ohm)) / (2 * h * s);
  return std::abs(loop(circuit, s, ohm) / slope / s);
}

Parallel two_notches() {
  return {0.35,
          {{6.8 + 46, 0, 1.1e-3, 0.3, 1150, 2.4, 85},
           {10 + 33, 0, 3e-4, 0.15, 2900, 3, 26},
           {5.2, 4.7e-6, 3e-4, 0.02, 9500, 4, 7},
           {8, 1e-6, 1.5e-3, 0, 0, 0, 0},
           {6, 2.2e-6, 4e-4, 0, 0, 0, 0}}};
}

class RandomParallel {
 public:
  explicit RandomParallel(std::uint64_t seed) : random_(seed) {}

  Parallel next(bool half_order) {
    Parallel circuit{0.1 + uniform(), {}};
    const int drivers = 1 + static_cast<int>(uniform() * 3);
    for (int i = 0; i < drivers; ++i) circuit.branches.push_back(driver(i, half_order));
    if (uniform() < 0.5) circuit.branches.push_back(notch());
    return circuit;
  }

 private:
  /// The same on every machine.
  double uniform() { return static_cast<double>(random_() >> 11) * 0x1p-53; }
  double between(double low, double high) { return low * std::pow(high / low, uniform()); }
  Branch driver(int i, bool half_order) {
    Branch one{between(5, 80), 0, between(5e-5, 2e-3), 0, between(300, 12000), between(0.7, 8),
               between(4, 100)};
    if (i > 0) one.farad = between(5e-7, 2e-5);
    if (half_order) one.coil_k = between(0.005, 0.4);
    return one;
  }
  Branch notch() { return {between(3, 30), between(3e-7, 3e-6), between(1e-4, 3e-3), 0, 0, 0, 0}; }

  std::mt19937_64 random_;
};

}  // namespace

TEST(ExactModes, TwoNotchesAndArmaturesWithHalfOrderCoils) {
  // Frequency in hertz and Q: zeros of the same Z(s) + R by Newton's method in mpmath 1.3 with 40
  // digits (from the 16,000 points of a grid over frequency and Q that NumPy had brought near; own
  // script, November 2026): all between 20 Hz and 20 kHz that were found.
  struct Row {
    double ohm;
    std::vector<std::pair<double, double>> hz_and_q;
  };
  const std::vector<Row> truth{{0,
                                {{1297.470677391, 1.1631661008648},
                                 {2981.7719132202, 2.1264541934927},
                                 {3426.710390074, 1.1971216224992},
                                 {4109.5717959479, 4.6519950163969},
                                 {5361.2622241729, 2.1256323719704},
                                 {9914.7143736873, 3.6280327374239}}},
                               {0.3,
                                {{1296.0871990112, 1.1645072023757},
                                 {2980.9460444251, 2.1279615677386},
                                 {3423.9864456113, 1.1510575647303},
                                 {4109.999697893, 4.5192342171781},
                                 {5352.0901055269, 2.0349785302166},
                                 {9910.9041839993, 3.6149621965238}}},
                               {6,
                                {{1269.7799628922, 1.1735420348504},
                                 {2973.6834500153, 2.1275661068188},
                                 {3117.6812158002, 0.6246017974782},
                                 {4122.2415429495, 3.624614506124},
                                 {4835.6139099752, 1.5892196903},
                                 {9832.6061644084, 3.5405433068099}}},
                               {INFINITY,
                                {{830.54703615484, 0.58253225661478},
                                 {1244.7256680142, 1.0161551940403},
                                 {2970.6646466337, 2.1175215898121},
                                 {4142.6533168888, 3.0242880342133},
                                 {4514.6393527836, 1.8895550904098},
                                 {9764.8313168803, 3.7747699955429}}}};
  const Parallel circuit = two_notches();
  const Damping found = damping(circuit.earphone(), resistances({0.3, 6}));
  for (std::size_t c = 0; c < truth.size(); ++c) {
    std::vector<PairMode> listed;
    for (const auto& mode : found.modes)
      if (mode.at[c] && mode.at[c]->is_complex()) listed.push_back(*mode.at[c]);
    std::sort(listed.begin(), listed.end(),
              [](const auto& a, const auto& b) { return a.hz < b.hz; });
    ASSERT_EQ(listed.size(), truth[c].hz_and_q.size()) << truth[c].ohm;
    for (std::size_t i = 0; i < listed.size(); ++i) {
      EXPECT_NEAR(listed[i].hz / truth[c].hz_and_q[i].first, 1, 1e-9) << truth[c].ohm;
      EXPECT_NEAR(listed[i].q / truth[c].hz_and_q[i].second, 1, 1e-9) << truth[c].ohm;
    }
  }
}

TEST(ExactModes, TheLargestSourceKeepsItsLimit) {
  const Parallel circuit = two_notches();
  const DampingEarphone earphone = circuit.earphone();
  DampingOptions options;
  options.limit_q_percent = 10;
  const auto within = damping(earphone, resistances({0.3}), options).limit;
  ASSERT_TRUE(within && within->largest_ohm);
  const double ohm = *within->largest_ohm;
  EXPECT_FALSE(damping(earphone, resistances({0.3, ohm}), options).limit->exceeded);
  EXPECT_TRUE(damping(earphone, resistances({0.3, 1.002 * ohm}), options).limit->exceeded) << ohm;
}

namespace {

/// The sector in which listed resonances are counted: 60 Hz to 18 kHz, Q from 0.58 (an angle of
/// 149.5 degrees) on.
const double sector_low = 2 * pi * 60, sector_high = 2 * pi * 18000, sector_q = 0.58;
const double sector_angle = pi - std::acos(1 / (2 * sector_q));

bool in_sector(Complex s) {
  const double size = std::abs(s);
  return size > sector_low && size < sector_high && std::arg(s) < sector_angle;
}

bool near_its_edge(Complex s) {
  const double size = std::abs(s);
  const auto near = [](double a, double b) { return std::abs(a / b - 1) < 0.003; };
  return near(size, sector_low) || near(size, sector_high) || near(std::arg(s), sector_angle);
}

/// Change of arg F along a path, in turns; halved until each step turns by little.
template <class Function>
double turns(const Function& f, Complex from, Complex to, Complex f_from, Complex f_to, int depth) {
  const double turn = std::arg(f_to / f_from);
  if (depth == 0 || (depth < 26 && std::abs(turn) < 0.3)) return turn / (2 * pi);
  // Half way in the logarithm, so that arcs stay arcs.
  const Complex middle = std::exp((std::log(from) + std::log(to)) / 2.0);
  const Complex f_middle = f(middle);
  return turns(f, from, middle, f_from, f_middle, depth - 1) +
         turns(f, middle, to, f_middle, f_to, depth - 1);
}

/// Zeros less poles of f in the sector, by the argument principle.
template <class Function>
long zeros_less_poles(const Function& f) {
  const double right = pi / 2 - 0.1;  // a passive circuit has none there
  const std::array<Complex, 5> corners{
      std::polar(sector_low, right), std::polar(sector_high, right),
      std::polar(sector_high, sector_angle), std::polar(sector_low, sector_angle),
      std::polar(sector_low, right)};
  double sum = 0;
  for (int i = 0; i < 4; ++i)
    sum += turns(f, corners[i], corners[i + 1], f(corners[i]), f(corners[i + 1]), 30);
  return std::lround(sum);
}

/// The resonance said to change most has the largest change of Q in percent, which is what is
/// printed, of those with a Q above 0.71 at one of two sources of which the first has 0 ohm.
void expect_largest_change(const Damping& found, int circuit) {
  const auto percent = [](const DampedMode& mode) {
    const auto &before = mode.at[0], &after = mode.at[1];
    if (!before || !after || std::max(before->q, after->q) < std::sqrt(0.5)) return 0.0;
    return 100 * std::abs(after->q / before->q - 1);
  };
  double largest = 0;
  for (const auto& mode : found.modes) largest = std::max(largest, percent(mode));
  if (largest == 0) return;
  ASSERT_TRUE(found.most_changed);
  EXPECT_EQ(percent(found.modes[*found.most_changed]), largest) << "circuit " << circuit;
}

}  // namespace

TEST(ExactModes, AreZerosAndNoneIsMissing) {
  // Of 240 random circuits, half of them without half-order coils: every listed pair is a zero to
  // 1e-9 of |s| of the Z(s) + R written above, and the listed zeros less the listed poles in the
  // sector are what the argument principle counts there.
  RandomParallel random(20261128);
  int listed = 0, counted = 0, at_edge = 0;
  for (int i = 0; i < 240; ++i) {
    const Parallel circuit = random.next(i % 2 == 0);
    const double ohm = std::array{0.3, 3.0, 10.0, 47.0}[static_cast<std::size_t>(i / 2 % 4)];
    DampingOptions options;
    options.band = {30, 30000};
    const Damping found = damping(circuit.earphone(), resistances({0, ohm}), options);
    const std::array conditions{0.0, ohm, double(INFINITY)};
    std::array<long, 3> within{};
    bool sure = true;
    for (const auto& mode : found.modes)
      for (std::size_t c = 0; c < 3; ++c) {
        if (!mode.at[c] || !mode.at[c]->is_complex()) continue;
        const Complex s = mode.at[c]->s1.imag() > 0 ? mode.at[c]->s1 : mode.at[c]->s2;
        EXPECT_LT(relative_error(circuit, s, conditions[c]), 1e-9)
            << "circuit " << i << ", " << conditions[c] << " ohm, " << mode.at[c]->hz << " Hz, Q "
            << mode.at[c]->q;
        ++listed;
        within[c] += in_sector(s);
        sure = sure && !near_its_edge(s);
      }
    expect_largest_change(found, i);
    if (!sure && ++at_edge) continue;
    for (std::size_t c = 0; c < 2; ++c, ++counted)
      EXPECT_EQ(within[c] - within[2],
                zeros_less_poles([&](Complex s) { return circuit.z(s) + conditions[c]; }))
          << "circuit " << i << ", " << conditions[c] << " ohm";
  }
  EXPECT_GT(listed, 1500);
  EXPECT_GT(counted, 400);
  EXPECT_LT(at_edge, 40);
}

}  // namespace ohmtilt::test
