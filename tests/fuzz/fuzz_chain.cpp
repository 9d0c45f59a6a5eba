// Any bytes as a chain file: refused with an InputError, or read to a chain whose text reads back
// the same and whose source at the terminals is finite or refused.
#include <ohmtilt/chain/chain_circuit.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/chain/thevenin_source.h>
#include <ohmtilt/text/error.h>
#include <cmath>
#include <cstdint>
#include <cstdlib>

#include "tests/fuzz/included_files.h"

namespace {

using namespace ohmtilt;

void require(bool holds) {
  if (!holds) std::abort();
}

void require_finite(const ComplexArray& values) {
  for (const auto& value : values)
    require(std::isfinite(value.real()) && std::isfinite(value.imag()));
}

void reduce(const Chain& chain) {
  const Array hz = Array::LinSpaced(3, 20, 20000);
  const TheveninSamples samples = thevenin_source(chain).at(hz);
  require_finite(samples.output_ohm);
  require_finite(samples.open_ratio);
  require_finite(input_ohm(chain, OnePort::resistance(16), hz));
  if (!chain.source().balanced) require(stereo_circuit(chain).ports.size() == 2);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(bytes), size);
  const auto& folder = fuzz::included_folder();
  try {
    const Chain chain = parse_chain(text, "fuzz", folder).value;
    const std::string written = chain_text(chain);
    require(chain_text(parse_chain(written, "again", folder).value) == written);
    if (chain.stages().size() < 20) reduce(chain);
  } catch (const InputError&) {
  }
  return 0;
}
