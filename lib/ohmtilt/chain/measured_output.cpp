#include <ohmtilt/chain/measured_output.h>
#include <ohmtilt/curve/measured_one_port.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

Read<MeasuredOutput> read_measured_output(const std::filesystem::path& file) {
  auto [curve, warnings] = read_impedance(file);
  const std::string& title = curve.notes().title;
  auto one = measured_one_port(curve, "the output impedance of " + printable(title));
  warnings.insert(warnings.end(), one.warnings.begin(), one.warnings.end());
  return {{title, std::move(one.value)}, std::move(warnings)};
}

}  // namespace ohmtilt
