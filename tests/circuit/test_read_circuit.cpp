#include <algorithm>

#include <ohmtilt/chain/earphone.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/tolerance_detail.h>

#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

const std::string every_kind = R"(title = "Every kind \"quoted\""
reference = "gnd"
[ports]
second = ["out", "gnd"]
first = ["in", "gnd"]
[[part]]
name = "R"
kind = "resistor"
nodes = ["in", "a"]
ohm = "4R7"
tolerance_percent = 1
[[part]]
name = "L"
kind = "inductor"
nodes = ["a", "b"]
henry = 1e-4
series_ohm = "R33"
[[part]]
name = "C"
kind = "capacitor"
nodes = ["b", "gnd"]
farad = 1e-6
[[part]]
name = "T"
kind = "transformer"
nodes = ["b", "gnd", "out", "gnd"]
ratio = 2
[[part]]
name = "sense"
kind = "voltage-source"
nodes = ["x", "gnd"]
volt = 1
phase_deg = 30
[[part]]
name = "Rx"
kind = "resistor"
nodes = ["b", "x"]
ohm = 1000
[[part]]
name = "F"
kind = "current-controlled-current-source"
nodes = ["gnd", "out"]
gain = 0.5
control = "sense"
[[part]]
name = "measured"
kind = "curve"
nodes = ["out", "gnd"]
file = "measured.csv"
[[part]]
name = "D"
kind = "dynamic-driver"
nodes = ["b", "gnd"]
dc_ohm = 16
resonance_hz = 300
q_mechanical = 2
q_electrical = 3
coil_k = 0.01
coil_n = 0.7
[[part]]
name = "A"
kind = "armature-driver"
nodes = ["b", "gnd"]
dc_ohm = 20
coil_henry = 1e-4
coil_k = 0.05
[[part.resonance]]
hz = 2500
q = 4
peak_ohm = "15R"
[[part.resonance]]
hz = 5600
q = 5
peak_ohm = 6
)";

class ReadCircuit : public testing::Test {
 protected:
  ReadCircuit() {
    scratch_.write("measured.csv",
                   "frequency_hz,magnitude_ohm,phase_deg\n10,50,0\n100,60,10\n"
                   "1000,70,20\n10000,80,30\n30000,90,35\n");
    file_ = scratch_.write("all-part-kinds.circuit.toml", every_kind);
  }
  Scratch scratch_;
  std::filesystem::path file_;
};

TEST_F(ReadCircuit, ReadsEveryPartInOrder) {
  const Circuit circuit = read_circuit(file_).value;
  EXPECT_EQ(circuit.title(), "Every kind \"quoted\"");
  EXPECT_EQ(circuit.port().name, "second");  // the file's first, not the alphabet's
  ASSERT_EQ(circuit.parts().size(), 10u);
  EXPECT_EQ(circuit.parts()[0].value("ohm"), 4.7);
  EXPECT_EQ(circuit.parts()[0].tolerance_percent, 1);
  EXPECT_EQ(circuit.parts()[1].value("series_ohm"), 0.33);
  EXPECT_EQ(circuit.parts()[9].value("resonance.1.peak_ohm"), 15);
  EXPECT_EQ(circuit.place(circuit.parts()[1]).line, 13);
}

TEST_F(ReadCircuit, WritesWhatReadsBackTheSame) {
  const Circuit circuit = read_circuit(file_).value;
  const std::string text = circuit_text(circuit);
  const Circuit again = parse_circuit(text, "again.toml", scratch_.folder()).value;
  EXPECT_EQ(circuit_text(again), text);
  const Array hz = audio_grid(11);
  EXPECT_TRUE((driving_point(circuit, hz, "first") == driving_point(again, hz, "first")).all());
}

// TOML reads -0 as a whole number, which has no sign: each number of the file in turn.
TEST_F(ReadCircuit, WritesAZeroWithASignSoThatItReadsBackTheSame) {
  const std::string written = circuit_text(read_circuit(file_).value);
  int read = 0;
  for (std::size_t at = written.find("= "); at != std::string::npos;
       at = written.find("= ", at + 1)) {
    const std::size_t first = at + 2;
    if (written.find_first_of("0123456789", first) != first) continue;
    const std::string signed_zero =
        written.substr(0, first) + "-0e-5" + written.substr(written.find('\n', first));
    try {
      const auto text_of = [&](const std::string& text) {
        return circuit_text(parse_circuit(text, "zero.toml", scratch_.folder()).value);
      };
      const std::string once = text_of(signed_zero);
      EXPECT_EQ(text_of(once), once);
      ++read;
    } catch (const InputError&) {
    }
  }
  EXPECT_GT(read, 3);
}

std::string resistor_with(const std::string& lines) {
  return "reference = \"0\"\n[ports]\nin = [\"a\", \"0\"]\n[[part]]\nname = "
         "\"R\"\nkind = "
         "\"resistor\"\nnodes = [\"a\", \"0\"]\nohm = 10\n" +
         lines;
}

TEST(ToleranceKeys, AreReadAndWrittenBack) {
  const std::string lines =
      "tolerance_percent = 5\ntolerance_group = \"reel\"\nmatching_percent = "
      "0.5\n"
      "group_in_one_channel = true\ndistribution = "
      "\"binned\"\nsorted_out_percent = 1\n"
      "temperature_ppm_per_kelvin = -100\nkelvin_per_watt = 200\n"
      "figure_tolerance_percent = {\"ohm\" = 2}\n";
  const Circuit circuit = parse_circuit(resistor_with(lines), "r.circuit.toml", ".").value;
  const ToleranceDetail& detail = *circuit.parts()[0].tolerance_detail;
  EXPECT_EQ(detail.group, "reel");
  EXPECT_EQ(detail.matching_percent, 0.5);
  EXPECT_TRUE(detail.group_in_one_channel);
  EXPECT_EQ(detail.sorted_out_percent, 1);
  EXPECT_EQ(detail.ppm_per_kelvin, -100);
  EXPECT_EQ(detail.kelvin_per_watt, 200);
  EXPECT_EQ(detail.percent_of("ohm", 5), 2);
  const std::string text = circuit_text(circuit);
  EXPECT_EQ(circuit_text(parse_circuit(text, "again.circuit.toml", ".").value), text);
}

TEST(ToleranceKeys, AreRefusedWhereTheySayNothing) {
  const auto refused = [](const std::string& lines, const std::string& key) {
    try {
      parse_circuit(resistor_with(lines), "r.circuit.toml", ".");
      ADD_FAILURE() << lines;
    } catch (const InputError& error) {
      EXPECT_NE(std::string(error.what()).find(key), std::string::npos) << error.what();
      EXPECT_NE(std::string(error.what()).find("r.circuit.toml:"), std::string::npos);
    }
  };
  refused("matching_percent = 1\n", "matching_percent");
  refused("tolerance_percent = 1\ntolerance_group = \"g\"\nmatching_percent = 2\n",
          "matching_percent");
  refused("distribution = \"binned\"\n", "sorted_out_percent");
  refused("sorted_out_percent = 1\n", "distribution");
  refused("distribution = \"flat\"\n", "distribution");
  refused(
      "tolerance_percent = 1\ndistribution = "
      "\"binned\"\nsorted_out_percent = 1\n",
      "sorted_out_percent");
  refused("kelvin_per_watt = -1\n", "kelvin_per_watt");
  refused("temperature_ppm_per_kelvin = 1e6\n", "temperature_ppm_per_kelvin");
  refused("figure_tolerance_percent = {henry = 2}\n", "henry");
  refused("figure_tolerance_percent = {ohm = 200}\n", "ohm");
}

// A mistyped name leaves its part with a loose end: the circuit is one, but
// hardly the one meant.
TEST_F(ReadCircuit, WarnsOfANodeWithOnePartAlone) {
  EXPECT_TRUE(read_circuit(file_).warnings.empty());
  const std::string text =
      "reference = \"0\"\n[ports]\nin = [\"a\", \"0\"]\n[[part]]\nname = \"R1\"\nkind = "
      "\"resistor\"\n"
      "nodes = [\"a\", \"b\"]\nohm = 10\n[[part]]\nname = \"R2\"\nkind = \"resistor\"\nnodes = "
      "[\"a\", "
      "\"0\"]\nohm = 20\n";
  const auto warnings = parse_circuit(text, "loose.circuit.toml", ".").warnings;
  ASSERT_EQ(warnings.size(), 1u);
  EXPECT_EQ(
      warnings[0],
      "loose.circuit.toml:5: node \"b\" has one part alone, \"R1\", and leads nowhere: connect "
      "it, or correct the node's name");
  const auto file = scratch_.write("loose.circuit.toml", text);
  const auto chain = parse_chain(
      "[source]\noutput_ohm = 1\n[[stage]]\nkind = \"circuit\"\nfile = "
      "\"with-ports.circuit.toml\"\n",
      "loose.chain.toml", [&] {
        std::string ports = text;
        ports.insert(ports.find("[[part]]"), "out = [\"a\", \"0\"]\n");
        scratch_.write("with-ports.circuit.toml", ports);
        return scratch_.folder();
      }());
  EXPECT_EQ(chain.warnings.size(), 1u);
  EXPECT_EQ(read_earphone(file).warnings.size(), 1u);
}

TEST_F(ReadCircuit, MagnitudeOnlyCurveGetsMinimumPhaseAndAWarning) {
  scratch_.write("measured.csv",
                 "frequency_hz,magnitude_ohm\n10,50\n100,60\n1000,70\n10000,80\n30000,90\n");
  const auto read = read_circuit(file_);
  const auto told = [](const std::string& w) {
    return w.find("minimum phase") != std::string::npos;
  };
  EXPECT_TRUE(std::any_of(read.warnings.begin(), read.warnings.end(), told));
}

TEST_F(ReadCircuit, FrequenciesOutsideACurvePartAreRefused) {
  const Circuit circuit = read_circuit(file_).value;
  EXPECT_NE(
      error_of([&] { driving_point(circuit, Array::Constant(1, 5)); }).find("outside the data"),
      std::string::npos);
  EXPECT_EQ(one_port(circuit).range().low_hz, 10);
}

TEST_F(ReadCircuit, ExpandedCircuitIsTheSameAtItsPorts) {
  const Circuit circuit = read_circuit(file_).value, elementary = expanded(circuit);
  const Array hz = audio_grid(21);
  EXPECT_LT(relative_error(driving_point(elementary, hz), driving_point(circuit, hz)), 1e-12);
  for (const auto& part : elementary.parts())
    EXPECT_LT(static_cast<int>(part.kind), static_cast<int>(PartKind::dynamic_driver)) << part.name;
  EXPECT_EQ(elementary.parts().back().name, "A.resonance 2 C");
}

TEST_F(ReadCircuit, AppendedCircuitKeepsItsBehaviour) {
  const Circuit circuit = read_circuit(file_).value;
  CircuitDraft draft;
  draft.reference = "0";
  draft.ports = {{"p", "here", "0"}};
  append(draft, circuit, "stage ", {{"in", "here"}});
  EXPECT_LT(relative_error(driving_point(Circuit(draft), audio_grid(5)),
                           driving_point(circuit, audio_grid(5), "first")),
            1e-13);
}

// The demo curves were computed by NumPy (tests/outside/reference_circuit.py) from the same files.
TEST(DemoCircuits, EqualTheCurvesThatNumPyComputed) {
  int count = 0;
  for (const auto& entry : std::filesystem::directory_iterator(source_dir() / "impedance-curves")) {
    const std::string name = entry.path().filename().string();
    if (!name.ends_with(".circuit.toml")) continue;
    ++count;
    const std::string curve =
        name.substr(0, name.size() - std::string(".circuit.toml").size()) + ".csv";
    const auto found = read_impedance(entry.path().parent_path() / curve).value;
    const Circuit circuit = read_circuit(entry.path()).value;
    EXPECT_LT(relative_error(driving_point(circuit, found.frequency_hz()), found.impedance_ohm()),
              1e-9)
        << name;
  }
  EXPECT_EQ(count, 6);
}

}  // namespace
}  // namespace ohmtilt::test
