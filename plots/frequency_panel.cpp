#include <plots/axis.h>
#include <plots/frequency_panel.h>

namespace ohmtilt::plots {

Panel frequency_panel(const Array& hz, double height, const std::string& heading) {
  Panel panel;
  panel.heading = heading;
  panel.x = frequency_axis(hz.size() > 0 ? Band{hz[0], hz[hz.size() - 1]} : Band{});
  panel.height = height;
  panel.shares_x = true;
  return panel;
}

}  // namespace ohmtilt::plots
