// Any bytes as a Touchstone file: refused with an InputError, or read to a curve that the writer
// carries back bit for bit.
#include <ohmtilt/curve/touchstone.h>
#include <ohmtilt/text/error.h>
#include <cstdint>
#include <cstdlib>

namespace {

using ohmtilt::Array;

void require(bool holds) {
  if (!holds) std::abort();
}

bool equal(const Array& a, const Array& b) { return a.size() == b.size() && (a == b).all(); }

void read(const std::string& bytes) {
  const auto port = ohmtilt::parse_touchstone(bytes, "fuzz.s1p").value;
  require((port.magnitude_ohm > 0).all() && port.magnitude_ohm.isFinite().all());
  const auto curve = ohmtilt::parse_impedance(bytes, "fuzz.s1p").read.value;
  for (const int version : {1, 2}) {
    ohmtilt::TouchstoneOptions options;
    options.version = version;
    const auto text = ohmtilt::touchstone_text(curve, options);
    const auto back = ohmtilt::parse_impedance(text, "back.s1p").read.value;
    require(equal(back.frequency_hz(), curve.frequency_hz()));
    require(equal(back.magnitude_ohm(), curve.magnitude_ohm()));
    require(equal(back.phase_deg(), curve.phase_deg()));
  }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  try {
    read(std::string(reinterpret_cast<const char*>(data), size));
  } catch (const ohmtilt::InputError&) {
  }
  return 0;
}
