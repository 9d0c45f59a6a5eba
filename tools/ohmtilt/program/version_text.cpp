#include <fmt/format.h>
#include <oneapi/tbb/version.h>
#include <sndfile.h>
#include <toml++/toml.h>
#include <Eigen/Core>
#include <boost/version.hpp>

#include <plots/gnuplot_version.h>
#include <tools/ohmtilt/program/command_line.h>
#include <tools/ohmtilt/program/json.h>
#include <tools/ohmtilt/program/version_text.h>

namespace ohmtilt::cli {

std::string version_text() {
  return fmt::format(
      "ohmtilt {}\n"
      "built with Eigen {}.{}.{}, Boost {}.{}.{}, {}, toml++ {}.{}.{}, {}, fmt {}.{}.{}\n"
      "runs with {}, oneTBB {}\n"
      "figures by {}",
      OHMTILT_VERSION, EIGEN_WORLD_VERSION, EIGEN_MAJOR_VERSION, EIGEN_MINOR_VERSION,
      BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100,
      command_line_library(), TOML_LIB_MAJOR, TOML_LIB_MINOR, TOML_LIB_PATCH, json_library(),
      FMT_VERSION / 10000, FMT_VERSION / 100 % 100, FMT_VERSION % 100, sf_version_string(),
      TBB_runtime_version(),
      plots::gnuplot_version().value_or(
          "gnuplot, which is not found: install the package gnuplot-nox to draw"));
}

}  // namespace ohmtilt::cli
