#include <ohmtilt/circuit/quoted_name.h>
#include <ohmtilt/circuit/sampled_two_port.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/error.h>
#include <algorithm>

namespace ohmtilt {
namespace {

constexpr double written_reference_ohm = 50, usual_anchor_hz = 1000;

Array with_usual_anchor(const Array& hz) {
  if (!(usual_anchor_hz > hz[0] && usual_anchor_hz < hz[hz.size() - 1])) return hz;
  if (datum_at(hz, usual_anchor_hz) >= 0) return hz;
  Array more(hz.size() + 1);
  more << hz, usual_anchor_hz;
  std::sort(more.begin(), more.end());
  return more;
}

}  // namespace

TwoPortData sampled_two_port(const Circuit& circuit, std::string_view in, std::string_view out,
                             const Band& band, Eigen::Index points) {
  if (circuit.port(in).name == circuit.port(out).name)
    throw InputError("a two-port has two ports, and " + quoted_name(in) + " is named twice",
                     "name another one");
  TwoPortData data;
  data.notes.title = circuit.title();
  data.notes.origin = "computed";
  data.frequency_hz = with_usual_anchor(log_grid(band, points));
  data.reference_ohm = {written_reference_ohm, written_reference_ohm};
  data.s = scattering(circuit, data.frequency_hz, in, out, written_reference_ohm);
  return data;
}

}  // namespace ohmtilt
