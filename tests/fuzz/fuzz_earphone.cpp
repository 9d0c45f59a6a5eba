// Any bytes as an earphone file: refused with an InputError, or read to an earphone whose levels
// are finite or refused.
#include <ohmtilt/chain/ear_level.h>
#include <ohmtilt/text/error.h>
#include <cstdint>
#include <cstdlib>

#include "tests/fuzz/included_files.h"

namespace {

using namespace ohmtilt;

void require(bool holds) {
  if (!holds) std::abort();
}

void listen(const Earphone& earphone) {
  const Array hz = Array::LinSpaced(3, 20, 20000);
  require(earphone.impedance.at(hz).isFinite().all());
  require(isolation_db(earphone, hz).isFinite().all());
  if (earphone.sensitivity) require(level_db_per_volt(earphone, hz).isFinite().all());
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* bytes, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(bytes), size);
  try {
    const Earphone earphone = parse_earphone(text, "fuzz", fuzz::included_folder());
    if (!earphone.circuit || earphone.circuit->parts().size() < 60) listen(earphone);
  } catch (const InputError&) {
  }
  return 0;
}
