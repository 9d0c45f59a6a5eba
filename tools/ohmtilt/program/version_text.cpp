#include <fmt/format.h>
#include <oneapi/tbb/version.h>
#include <sndfile.h>
#include <toml++/toml.h>
#include <CLI/Version.hpp>
#include <Eigen/Core>
#include <boost/version.hpp>
#include <nlohmann/json.hpp>

#include <plots/gnuplot_version.h>
#include <tools/ohmtilt/program/version_text.h>

namespace ohmtilt::cli {

std::string version_text() {
  return fmt::format(
      "ohmtilt {}\n"
      "built with Eigen {}.{}.{}, Boost {}.{}.{}, CLI11 {}, toml++ {}.{}.{}, "
      "nlohmann-json {}.{}.{}, fmt {}.{}.{}\n"
      "runs with {}, oneTBB {}\n"
      "figures by {}",
      OHMTILT_VERSION, EIGEN_WORLD_VERSION, EIGEN_MAJOR_VERSION, EIGEN_MINOR_VERSION,
      BOOST_VERSION / 100000, BOOST_VERSION / 100 % 1000, BOOST_VERSION % 100, CLI11_VERSION,
      TOML_LIB_MAJOR, TOML_LIB_MINOR, TOML_LIB_PATCH, NLOHMANN_JSON_VERSION_MAJOR,
      NLOHMANN_JSON_VERSION_MINOR, NLOHMANN_JSON_VERSION_PATCH, FMT_VERSION / 10000,
      FMT_VERSION / 100 % 100, FMT_VERSION % 100, sf_version_string(), TBB_runtime_version(),
      plots::gnuplot_version().value_or(
          "gnuplot, which is not found: install the package gnuplot-nox to draw"));
}

}  // namespace ohmtilt::cli
