// Any bytes as a circuit file: refused with an InputError, or read to a circuit whose text reads
// back the same and whose impedance is finite or refused.
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <cstdint>
#include <cstdlib>

namespace {

using namespace ohmtilt;

void require(bool holds) {
  if (!holds) std::abort();
}

void solve(const Circuit& circuit) {
  const Array hz = Array::LinSpaced(3, 20, 20000);
  for (const auto& z : driving_point(circuit, hz))
    require(std::isfinite(z.real()) && std::isfinite(z.imag()));
  for (const double volt : thermal_noise(circuit, hz).volt_per_root_hz) require(volt >= 0);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(bytes), size);
  try {
    const Circuit circuit = parse_circuit(text, "fuzz", "/nonexistent").value;
    const std::string written = circuit_text(circuit);
    require(circuit_text(parse_circuit(written, "again", "/nonexistent").value) == written);
    if (circuit.parts().size() < 60) solve(circuit);
  } catch (const InputError&) {
  }
  return 0;
}
