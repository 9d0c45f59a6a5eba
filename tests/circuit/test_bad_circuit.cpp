// One fault a test: what the reader or the check says of it.
#include "tests/circuit/circuits.h"

namespace ohmtilt::test {
namespace {

const std::string head = "reference = \"0\"\n[ports]\nin = [\"in\", \"0\"]\n";

std::string part(const std::string& name, const std::string& kind, const std::string& nodes,
                 const std::string& values) {
  return "[[part]]\nname = \"" + name + "\"\nkind = \"" + kind + "\"\nnodes = [" + nodes + "]\n" +
         values + "\n";
}
const std::string resistor_text = part("R1", "resistor", "\"in\", \"0\"", "ohm = 10");

/// What reading the text, and then checking it, says.
std::string said(const std::string& text) {
  return error_of([&] { check_solvable(parse_circuit(text, "x.toml", ".").value); });
}

void expect_said(const std::string& text, const std::vector<std::string>& words) {
  const std::string found = said(text);
  for (const auto& word : words)
    EXPECT_NE(found.find(word), std::string::npos) << "\"" << word << "\" is not in: " << found;
}

TEST(BadCircuit, TheGoodOneIsGood) { EXPECT_EQ(said(head + resistor_text), ""); }

TEST(BadCircuit, SyntaxError) { expect_said("reference = \"0\n", {"x.toml:1:", "not TOML"}); }

TEST(BadCircuit, UnknownKeyNamesTheNearest) {
  expect_said(head + part("R1", "resistor", "\"in\", \"0\"", "ohms = 10"),
              {"x.toml:8:1: ", "part \"R1\"", "`ohms`", "did you mean `ohm`?"});
}

TEST(BadCircuit, MissingValueNamesPartAndKey) {
  expect_said(head + part("R1", "resistor", "\"in\", \"0\"", ""),
              {"x.toml:4:", "part \"R1\"", "`ohm` is missing"});
}

TEST(BadCircuit, WrongType) {
  expect_said(head + part("C1", "capacitor", "\"in\", \"0\"", "farad = \"1u\""),
              {"x.toml:8:9", "part \"C1\"", "`farad` should be a number and is text"});
}

TEST(BadCircuit, NotFinite) {
  for (const char* value : {"nan", "inf", "-inf", "1e999"})
    expect_said(head + part("R1", "resistor", "\"in\", \"0\"", std::string("ohm = ") + value),
                {"x.toml:8:"});
}

TEST(BadCircuit, ToleranceOfAFourTerminalPart) {
  expect_said(head + resistor_text +
                  part("T1", "transformer", "\"in\", \"0\", \"out\", \"0\"",
                       "ratio = 2\ntolerance_percent = 5"),
              {"x.toml:14:1", "part \"T1\"", "`tolerance_percent`"});
  Part made = four_terminal(PartKind::transformer, "T1", {"in", "0", "out", "0"}, {{"ratio", 2}});
  made.tolerance_percent = 5;
  CircuitDraft draft;
  draft.reference = "0";
  draft.ports = {{"in", "in", "0"}};
  draft.parts = {made, resistor("R", "out", "0", 10)};
  EXPECT_NE(error_of([&] { Circuit circuit(draft); }).find("taken as exact; leave it out"),
            std::string::npos);
}

TEST(BadCircuit, AbsentCurveNamesPartAndPlace) {
  for (const char* file : {"nix.csv", ""})
    expect_said(
        head + part("P", "curve", "\"in\", \"0\"", "file = \"" + std::string(file) + "\""),
        {"x.toml:8:", "part \"P\"", "`file` names \"" + std::string(file) + "\", which is not"});
}

TEST(BadCircuit, NotPhysical) {
  expect_said(head + part("R1", "resistor", "\"in\", \"0\"", "ohm = -3"),
              {"x.toml:8:7", "part \"R1\"", "`ohm` is -3", "0 or more"});
  expect_said(head + part("C1", "capacitor", "\"in\", \"0\"", "farad = 0"), {"`farad` is 0"});
  expect_said(head + part("K1", "lossy-inductor", "\"in\", \"0\"", "k = 1\nn = 1.2"),
              {"`n` is 1.2"});
  expect_said(head + part("C1", "capacitor", "\"in\", \"0\"", "farad = 1e-300"),
              {"check its unit"});
}

TEST(BadCircuit, ResistanceCodeThatIsNone) {
  expect_said(head + part("R1", "resistor", "\"in\", \"0\"", "ohm = \"4Q7\""), {"4Q7", "4R7"});
}

TEST(BadCircuit, UnknownKindNamesTheNearest) {
  expect_said(head + part("R1", "resistr", "\"in\", \"0\"", "ohm = 1"),
              {"x.toml:6:", "resistr", "did you mean \"resistor\"?"});
}

TEST(BadCircuit, DuplicateName) {
  expect_said(head + resistor_text + resistor_text,
              {"x.toml:10", "two parts have the name \"R1\""});
}

TEST(BadCircuit, TooFewAndTooManyNodes) {
  expect_said(head + part("R1", "resistor", "\"in\"", "ohm = 1"), {"names 1 nodes", "has 2"});
  expect_said(head + part("T", "transformer", "\"in\", \"0\"", "ratio = 1"),
              {"names 2 nodes", "has 4"});
  expect_said(head + part("R1", "resistor", "\"in\", \"0\", \"x\"", "ohm = 1"), {"names 3 nodes"});
}

TEST(BadCircuit, BothEndsOnOneNode) {
  expect_said(head + resistor_text + part("R2", "resistor", "\"in\", \"in\"", "ohm = 1"),
              {"both ends on node \"in\""});
}

TEST(BadCircuit, UnknownNodeInAPort) {
  expect_said("reference = \"0\"\n[ports]\np = [\"tipp\", \"0\"]\n" +
                  part("R1", "resistor", "\"tip\", \"0\"", "ohm = 1"),
              {"port \"p\"", "unknown node \"tipp\"", "\"tip\"?"});
}

TEST(BadCircuit, NoPortsAndNoReference) {
  expect_said("reference = \"0\"\n" + resistor_text, {"`ports` is missing"});
  expect_said("reference = \"0\"\n[ports]\n" + resistor_text, {"no port"});
  expect_said("[ports]\nin = [\"in\", \"0\"]\n" + resistor_text, {"`reference` is missing"});
  expect_said("reference = \"ground\"\n[ports]\nin = [\"in\", \"0\"]\n" + resistor_text,
              {"reference node \"ground\""});
}

TEST(BadCircuit, NoParts) { expect_said(head, {"no part"}); }

TEST(BadCircuit, UnknownControl) {
  expect_said(head + resistor_text +
                  part("F", "current-controlled-current-source", "\"in\", \"0\"",
                       "gain = 1\ncontrol = \"V9\""),
              {"part \"F\"", "no voltage source", "V9"});
}

TEST(BadCircuit, FloatingNode) {
  expect_said(head + resistor_text + part("R2", "resistor", "\"a\", \"b\"", "ohm = 1"),
              {"x.toml:10", "node \"a\" has no path to the reference \"0\"", "part \"R2\""});
}

TEST(BadCircuit, TransformerSecondaryWithoutReference) {
  expect_said(head + part("T", "transformer", "\"in\", \"0\", \"a\", \"b\"", "ratio = 2") +
                  part("R2", "resistor", "\"a\", \"b\"", "ohm = 8"),
              {"node \"a\" has no path"});
}

TEST(BadCircuit, LoopOfVoltageSources) {
  expect_said(
      head + part("V1", "voltage-source", "\"in\", \"0\"", "volt = 1") +
          part("V2", "voltage-source", "\"in\", \"a\"", "volt = 1") +
          part("E", "voltage-controlled-voltage-source", "\"a\", \"0\", \"in\", \"0\"", "gain = 2"),
      {"part \"E\" closes a loop", "\"V1\"", "\"V2\""});
  expect_said(head + part("V1", "voltage-source", "\"in\", \"0\"", "volt = 1") +
                  part("wire", "resistor", "\"in\", \"0\"", "ohm = 0"),
              {"part \"wire\" closes a loop", "\"V1\""});
}

TEST(BadCircuit, TransformerBetweenTwoVoltageSources) {
  expect_said(head + part("V1", "voltage-source", "\"in\", \"0\"", "volt = 1") +
                  part("V2", "voltage-source", "\"a\", \"0\"", "volt = 1") +
                  part("T", "transformer", "\"in\", \"0\", \"a\", \"0\"", "ratio = 2"),
              {"both windings", "\"T\""});
}

TEST(BadCircuit, CutSetOfCurrentSources) {
  expect_said(head + resistor_text + part("I1", "current-source", "\"0\", \"a\"", "ampere = 1") +
                  part("I2", "current-source", "\"a\", \"in\"", "ampere = 1"),
              {"node \"a\" is fed by current sources only", "\"I1\""});
}

TEST(BadCircuit, HalfADriver) {
  expect_said(
      head + part("D", "dynamic-driver", "\"in\", \"0\"", "dc_ohm = 16\nresonance_hz = 100"),
      {"part \"D\"", "`q_mechanical` is missing"});
  expect_said(head + part("D", "dynamic-driver", "\"in\", \"0\"",
                          "dc_ohm = 16\nresonance_hz = 100\nq_mechanical = 2\nq_electrical = 1\n"
                          "moving_gram = 0.1\ncompliance_mm_per_newton = 1\n"
                          "resistance_kg_per_second = 1\nforce_factor_newton_per_ampere = 1"),
              {"`resonance_hz` stands beside the mechanical keys"});
  expect_said(head + part("D", "dynamic-driver", "\"in\", \"0\"",
                          "dc_ohm = 16\nresonance_hz = 100\nq_mechanical = 2\nq_electrical = 1\n"
                          "coil_k = 0.1"),
              {"`coil_n` is missing"});
  expect_said(head + part("A", "armature-driver", "\"in\", \"0\"",
                          "dc_ohm = 16\ncoil_henry = 0\ncoil_k = 0"),
              {"part \"A\"", "`resonance` is missing"});
}

// The driver's own node "D.dc end" lies between its resistance and its resonance.
TEST(BadCircuit, NodeNamedLikeOneWithinADriver) {
  const std::string driver =
      part("D", "dynamic-driver", "\"in\", \"0\"",
           "dc_ohm = 16\nresonance_hz = 100\nq_mechanical = 2\nq_electrical = 1");
  EXPECT_EQ(said(head + driver), "");
  expect_said(head + driver + part("R1", "resistor", "\"in\", \"D.dc end\"", "ohm = 5"),
              {"x.toml:13:", "node \"D.dc end\"", "within the driver \"D\"", "another name"});
}

TEST(BadCircuit, ArmatureThatSticksToItsMagnet) {
  expect_said(head + part("A", "armature-driver", "\"in\", \"0\"",
                          "dc_ohm = 16\ncoil_henry = 0\ncoil_k = 0\nmoving_gram = 0.01\n"
                          "compliance_mm_per_newton = 0.5\nresistance_kg_per_second = 1\n"
                          "force_factor_newton_per_ampere = 1\n"
                          "magnetic_stiffness_newton_per_mm = 2"),
              {"x.toml:15:", "magnetic_stiffness", "stick"});
}

TEST(BadCircuit, UnknownKeyInAResonance) {
  expect_said(head + part("A", "armature-driver", "\"in\", \"0\"",
                          "dc_ohm = 16\ncoil_henry = 0\ncoil_k = 0\n[[part.resonance]]\nhz = 1e3\n"
                          "q = 2\npeak_ohm = 5\nQ = 3"),
              {"part \"A\" resonance 1", "unknown key `Q`"});
}

TEST(BadCircuit, MissingCurveFile) {
  expect_said(head + part("Z", "curve", "\"in\", \"0\"", "file = \"no-such-file.csv\""),
              {"no-such-file.csv"});
}

TEST(BadCircuit, MissingFileAndFolder) {
  for (const char* place : {"/no/such/file.circuit.toml", "/tmp"})
    EXPECT_NE(error_of([&] { read_circuit(place); }).find(place), std::string::npos);
}

TEST(BadCircuit, UnknownPortAskedFor) {
  const Circuit circuit = parse_circuit(head + resistor_text, "x.toml", ".").value;
  EXPECT_NE(error_of([&] { circuit.port("out"); }).find("it has in"), std::string::npos);
}

TEST(BadCircuit, ControlCharactersInNamesStayOutOfMessages) {
  const std::string found =
      said(head + part("R\\u001b[31m", "resistor", "\"in\", \"0\"", "ohm = -1"));
  EXPECT_EQ(found.find('\x1b'), std::string::npos);
  EXPECT_NE(found.find("R\ufffd[31m"), std::string::npos);
}

TEST(BadCircuit, TooManyUnknowns) {
  std::string text = head;
  for (int k = 0; k < 1100; ++k)
    text += part("R" + std::to_string(k), "resistor",
                 (k == 0 ? std::string("\"in\"") : "\"n" + std::to_string(k) + "\"") + ", \"0\"",
                 "ohm = 1000");
  const Circuit circuit = parse_circuit(text, "x.toml", ".").value;
  EXPECT_NE(error_of([&] { driving_point(circuit, audio_grid(2)); }).find("more than 1000"),
            std::string::npos);
}

}  // namespace
}  // namespace ohmtilt::test
