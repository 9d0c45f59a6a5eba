// The Python module: the library's own values under their own names. It computes nothing; arrays
// are views of the library's memory, which live as long as anything in Python refers to them.
#include <pybind11/eigen.h>
#include <pybind11/pybind11.h>
#include <pybind11/stl.h>
#include <pybind11/stl/filesystem.h>

#include <ohmtilt/analysis/damping/damping.h>
#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/base/preferred_values.h>
#include <ohmtilt/chain/chain.h>
#include <ohmtilt/circuit/read_circuit.h>
#include <ohmtilt/circuit/solver.h>
#include <ohmtilt/circuit/thermal_noise.h>
#include <ohmtilt/design/pad/pad_search.h>
#include <ohmtilt/text/error.h>

#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

namespace py = pybind11;

namespace ohmtilt::python {
namespace {

using Pair = std::pair<double, double>;
/// None, a frequency in Hz, or a band (low, high) in Hz.
using AnchorArgument = std::variant<double, Pair>;
using Path = std::filesystem::path;
using Release = py::call_guard<py::gil_scoped_release>;

Anchor anchor_of(const std::optional<AnchorArgument>& given) {
  if (!given) return NoAnchor{};
  if (const auto* band = std::get_if<Pair>(&*given)) return AnchorBand{band->first, band->second};
  return AnchorFrequency{std::get<double>(*given)};
}

Band band_of(const Pair& band) { return {band.first, band.second}; }

TheveninSource source_of(const std::variant<double, std::string, Path>& given) {
  if (const auto* ohm = std::get_if<double>(&given)) return resistive_source(*ohm);
  if (const auto* text = std::get_if<std::string>(&given)) return read_source(*text);
  return read_source(std::get<Path>(given).string());
}

Comparison compare(const Earphone& earphone, const TheveninSource& from,
                   const std::vector<TheveninSource>& to, const Pair& band, Eigen::Index points,
                   const std::optional<AnchorArgument>& anchor, std::optional<double> limit_db) {
  ComparisonOptions how;
  how.band = band_of(band);
  how.points = points;
  how.anchor = anchor_of(anchor);
  how.limit_db = limit_db;
  return compare_sources(earphone, from, to, how);
}

Damping damped(const Earphone& earphone, const std::vector<TheveninSource>& sources,
               const Pair& band, Eigen::Index points, std::optional<double> limit_q_percent) {
  DampingOptions how;
  how.band = band_of(band);
  how.points = points;
  how.limit_q_percent = limit_q_percent;
  std::vector<DampingSource> all;
  for (const auto& source : sources) all.push_back(damping_source(source));
  return damping(damping_earphone(earphone, how.band), all, how);
}

std::vector<PadTopology> topologies_of(const std::vector<std::string>& names) {
  std::vector<PadTopology> topologies;
  for (const auto& name : names) {
    const auto topology = topology_of_name(name);
    if (!topology) throw InputError("no pad is called \"" + name + "\"", "say L, T, pi ...");
    topologies.push_back(*topology);
  }
  return topologies;
}

/// How far a search for pads reaches beyond what it must be told.
struct PadQuestion {
  double attenuation_db, within_db;
  std::vector<std::string> topologies;
  std::vector<double> values_ohm;
  double tolerance_percent;
  PadLimits limits;
};

PadSearch pads(const Earphone& earphone, const TheveninSource& source, const PadQuestion& asked,
               const Pair& band, Eigen::Index points, const std::optional<AnchorArgument>& anchor) {
  PadSiteOptions where;
  where.band = band_of(band);
  where.points = points;
  where.anchor = anchor_of(anchor);
  PadSearchOptions how;
  how.topologies = topologies_of(asked.topologies);
  how.values_ohm = asked.values_ohm;
  how.target = {asked.attenuation_db, asked.within_db};
  how.tolerance_percent = asked.tolerance_percent;
  how.limits = asked.limits;
  if (source.chain) {
    where.open_volt = source.chain->source().open_volt.value_or(1);
    how.max_ampere = source.chain->source().max_ampere;
  }
  return search_pads(PadSite(earphone, source, where), how);
}

std::vector<std::pair<std::string, ComplexArray>> port_volts(const std::vector<PortVolt>& all) {
  std::vector<std::pair<std::string, ComplexArray>> volts;
  for (const auto& one : all) volts.emplace_back(one.port, one.volt);
  return volts;
}

void bind_values(py::module_& m) {
  py::class_<Earphone>(m, "Earphone", "An earphone as read_earphone gives it.")
      .def_readonly("title", &Earphone::title)
      .def_readonly("warnings", &Earphone::warnings)
      .def_readonly("rated_ohm", &Earphone::rated_ohm, "rated impedance in ohm, or None")
      .def_property_readonly(
          "phase", [](const Earphone& e) { return std::string(to_string(e.phase)); },
          "'measured', 'minimum' or 'computed'")
      .def_property_readonly(
          "range_hz",
          [](const Earphone& e) {
            return Pair{e.impedance.range().low_hz, e.impedance.range().high_hz};
          },
          "lowest and highest frequency in Hz where its impedance is known")
      .def(
          "impedance_ohm",
          [](const Earphone& e, const Array& frequency_hz) { return e.impedance.at(frequency_hz); },
          py::arg("frequency_hz"),
          "Complex impedance in ohm, shape (n,), at frequencies in Hz, shape (n,).");
  py::class_<TheveninSource>(m, "Source", "A source as an earphone sees it.")
      .def_readonly("label", &TheveninSource::label)
      .def_readonly("warnings", &TheveninSource::warnings)
      .def(
          "output_ohm",
          [](const TheveninSource& s, const Array& frequency_hz) {
            return s.output.at(frequency_hz);
          },
          py::arg("frequency_hz"),
          "Complex output impedance in ohm at the earphone's terminals, shape (n,), at frequencies "
          "in Hz, shape (n,).")
      .def(
          "open_ratio",
          [](const TheveninSource& s, const Array& frequency_hz) {
            const TheveninSamples samples = s.at(frequency_hz);
            return samples.open_ratio.size() > 0
                       ? samples.open_ratio
                       : ComplexArray(ComplexArray::Ones(frequency_hz.size()));
          },
          py::arg("frequency_hz"),
          "Open-circuit voltage at the terminals over the amplifier's own, complex, shape (n,).");
  m.def("read_earphone", &read_earphone, py::arg("file"),
        "Reads a curve, a circuit or an earphone file. Raises InputError.");
  m.def(
      "source", &source_of, py::arg("what"),
      "A source from a number of ohms, or from what a command line takes: a code ('6R0'), a curve "
      "or chain file. Raises InputError.");
  m.def(
      "log_grid",
      [](const Pair& band, Eigen::Index points) { return log_grid(band_of(band), points); },
      py::arg("band") = Pair{20, 20000}, py::arg("points") = 480,
      "Frequencies in Hz, equally spaced in their logarithm, both ends exact, shape (points,).");
}

void bind_deviation(py::module_& m) {
  py::class_<Deviation>(m, "Deviation", "What one source does instead of another.")
      .def_readonly("deviation_db", &Deviation::deviation_db,
                    "change of the response in dB, 0 at the anchor; shape (points,), a view")
      .def_readonly("span_db", &Deviation::span_db, "largest less smallest deviation in dB")
      .def_readonly("rms_db", &Deviation::rms_db, "root mean square over ln f in dB")
      .def_readonly("erb_span_db", &Deviation::erb_span_db, "span after smoothing over 1 ERB, dB")
      .def_readonly("level_change_db", &Deviation::level_change_db,
                    "change of level in dB that the anchor took away");
  py::class_<ComparedSource>(m, "ComparedSource", "One source against the first.")
      .def_readonly("label", &ComparedSource::label)
      .def_readonly("output_ohm", &ComparedSource::output_ohm, "|output impedance| in ohm")
      .def_readonly("deviation", &ComparedSource::deviation)
      .def_property_readonly(
          "lower_95_db",
          [](const ComparedSource& c) {
            return c.interval ? c.interval->lower_95_db : c.deviation.deviation_db;
          },
          "what the earphone's curve leaves open below, dB, shape (points,)")
      .def_property_readonly(
          "upper_95_db",
          [](const ComparedSource& c) {
            return c.interval ? c.interval->upper_95_db : c.deviation.deviation_db;
          },
          "the same above")
      .def_property_readonly(
          "whole_95_db",
          [](const ComparedSource& c) { return c.interval ? c.interval->whole_95_db : 0; },
          "half width in dB that holds the whole deviation in 95 % of cases; 0 for a circuit")
      .def_readonly("response_db", &ComparedSource::response_db,
                    "response with this source in dB, shape (points,); empty without a response");
  py::class_<Comparison>(m, "Comparison", "Sources compared with the first, on one earphone.")
      .def_property_readonly(
          "frequency_hz", [](const Comparison& c) -> const Array& { return c.grid.grid_hz; },
          py::return_value_policy::reference_internal, "grid in Hz, shape (points,), a view")
      .def_readonly("load_ohm", &Comparison::load_ohm,
                    "the earphone's complex impedance in ohm, shape (points,), a view")
      .def_readonly("cases", &Comparison::cases, "one ComparedSource per source")
      .def_property_readonly(
          "largest_source_ohm",
          [](const Comparison& c) {
            return c.largest_source ? c.largest_source->ohm : std::optional<double>();
          },
          "highest output resistance in ohm that keeps limit_db, or None")
      .def_readonly("warnings", &Comparison::warnings);
  m.def("compare_sources", &compare, py::arg("earphone"), py::arg("from_source"), py::arg("to"),
        py::arg("band") = Pair{20, 20000}, py::arg("points") = 480,
        py::arg("anchor") = AnchorArgument(1000.0), py::arg("limit_db") = std::nullopt, Release(),
        "What each of the sources `to` (a list) does to the response instead of from_source.\n\n"
        "band: (low, high) in Hz; anchor: a frequency in Hz, a band (low, high), or None;\n"
        "limit_db: also find the highest output resistance that keeps the span within it.");
}

void bind_damping(py::module_& m) {
  py::class_<PairMode>(m, "PairMode", "One resonance behind one source.")
      .def_readonly("hz", &PairMode::hz, "its frequency in Hz")
      .def_readonly("q", &PairMode::q, "its Q")
      .def_readonly("decay_60_db_ms", &PairMode::decay_60_db_ms, "decay by 60 dB in ms")
      .def_readonly("s1", &PairMode::s1, "complex frequency in rad/s")
      .def_readonly("s2", &PairMode::s2, "complex frequency in rad/s");
  py::class_<DampedMode>(m, "DampedMode", "One resonance behind every source.")
      .def_readonly("name", &DampedMode::name, "of the driver, or None")
      .def_readonly("hz", &DampedMode::hz, "the frequency in Hz that it goes by")
      .def_readonly("at", &DampedMode::at, "one PairMode or None per entry of Damping.conditions");
  py::class_<DampingCondition>(m, "DampingCondition", "What an entry of DampedMode.at is behind.")
      .def_readonly("label", &DampingCondition::label)
      .def_readonly("source_ohm", &DampingCondition::source_ohm, "|Zs| at 1 kHz in ohm");
  py::class_<Damping>(m, "Damping", "Resonances behind 0 ohm, every source, and infinity.")
      .def_readonly("conditions", &Damping::conditions)
      .def_readonly("modes", &Damping::modes)
      .def_readonly("frequency_hz", &Damping::frequency_hz, "grid in Hz, shape (points,), a view")
      .def_property_readonly(
          "damping_factors",
          [](const Damping& d) {
            std::vector<Array> ratios;
            for (const auto& factor : d.factors) ratios.push_back(factor.ratio);
            return ratios;
          },
          "|Z|/|Zs| per source, each of shape (points,)")
      .def_readonly("warnings", &Damping::warnings);
  m.def("damping", &damped, py::arg("earphone"), py::arg("sources"),
        py::arg("band") = Pair{20, 20000}, py::arg("points") = 480,
        py::arg("limit_q_percent") = std::nullopt, Release(),
        "How the sources (a list, the first compared with the others) change Q and decay.");
}

void bind_pads(py::module_& m) {
  py::class_<PadCandidate>(m, "PadCandidate", "One pad and what it does.")
      .def_property_readonly(
          "topology",
          [](const PadCandidate& c) { return std::string(topology_name(c.pad.topology)); })
      .def_property_readonly(
          "resistances",
          [](const PadCandidate& c) {
            std::vector<std::pair<std::string, double>> all;
            for (std::size_t i = 0; i < c.pad.ohm.size(); ++i)
              all.emplace_back(pad_keys(c.pad.topology)[i], c.pad.ohm[i]);
            return all;
          },
          "list of (key of a chain file, ohm)")
      .def_readonly("attenuation_db", &PadCandidate::attenuation_db)
      .def_readonly("attenuation_error_db", &PadCandidate::attenuation_error_db)
      .def_readonly("output_ohm", &PadCandidate::output_ohm)
      .def_readonly("span_db", &PadCandidate::span_db)
      .def_readonly("input_min_ohm", &PadCandidate::input_min_ohm)
      .def_readonly("largest_ampere", &PadCandidate::largest_ampere)
      .def_readonly("dissipation_milliwatt", &PadCandidate::dissipation_milliwatt)
      .def_readonly("attenuation_p95_db", &PadCandidate::attenuation_p95_db)
      .def_readonly("channel_difference_p95_db", &PadCandidate::channel_difference_p95_db)
      .def_readonly("noise_volt_a_weighted", &PadCandidate::noise_volt_a_weighted)
      .def_readonly("pareto", &PadCandidate::pareto);
  py::class_<PadSearch>(m, "PadSearch", "Pareto-optimal pads, by output_ohm.")
      .def_readonly("candidates", &PadSearch::candidates)
      .def_readonly("recommended", &PadSearch::recommended, "index into candidates, or None")
      .def_readonly("reason", &PadSearch::reason)
      .def_readonly("searched", &PadSearch::searched, "combinations covered");
  m.def(
      "search_pads",
      [](const Earphone& earphone, const TheveninSource& source, double attenuation_db,
         const std::vector<double>& values_ohm, double within_db,
         const std::vector<std::string>& topologies, double tolerance_percent,
         std::optional<double> limit_span_db, std::optional<double> limit_output_ohm,
         std::optional<double> limit_input_ohm, const Pair& band, Eigen::Index points,
         const std::optional<AnchorArgument>& anchor) {
        PadQuestion asked{attenuation_db, within_db, topologies, values_ohm, tolerance_percent, {}};
        asked.limits.span_db = limit_span_db;
        asked.limits.output_ohm = limit_output_ohm;
        asked.limits.input_ohm = limit_input_ohm;
        return pads(earphone, source, asked, band, points, anchor);
      },
      py::arg("earphone"), py::arg("source"), py::arg("attenuation_db"), py::arg("values_ohm"),
      py::arg("within_db") = 0.5,
      py::arg("topologies") = std::vector<std::string>{"series", "L", "T", "pi"},
      py::arg("tolerance_percent") = 1.0, py::arg("limit_span_db") = std::nullopt,
      py::arg("limit_output_ohm") = std::nullopt, py::arg("limit_input_ohm") = std::nullopt,
      py::arg("band") = Pair{20, 20000}, py::arg("points") = 480,
      py::arg("anchor") = AnchorArgument(1000.0), Release(),
      "Every combination of values_ohm (ohm, such as preferred_values gives) in every topology:\n"
      "those within within_db of attenuation_db (dB) and the limits that no other beats.");
  m.def(
      "preferred_values",
      [](const std::string& series, double low_ohm, double high_ohm) {
        return preferred_values(parse_series(series), low_ohm, high_ohm);
      },
      py::arg("series") = "E24", py::arg("low") = 1.0, py::arg("high") = 1000.0,
      "Members of a series of IEC 60063 ('E3' to 'E192') from low to high, a list.");
}

void bind_circuits(py::module_& m) {
  py::class_<Circuit>(m, "Circuit", "A linear circuit as read_circuit gives it.")
      .def_property_readonly("title", &Circuit::title)
      .def_property_readonly(
          "ports",
          [](const Circuit& c) {
            std::vector<std::string> names;
            for (const auto& port : c.ports()) names.push_back(port.name);
            return names;
          },
          "names; the first one is the default")
      .def(
          "driving_point",
          [](const Circuit& c, const Array& frequency_hz, const std::string& port) {
            return driving_point(c, frequency_hz, port);
          },
          py::arg("frequency_hz"), py::arg("port") = "", Release(),
          "Complex impedance in ohm at a port, the others open, shape (n,), at frequencies in Hz.")
      .def(
          "transfers",
          [](const Circuit& c, const Array& frequency_hz, const std::string& drive) {
            return port_volts(transfers(c, frequency_hz, drive));
          },
          py::arg("frequency_hz"), py::arg("drive") = "", Release(),
          "Open voltage of each other port for 1 V at port drive: list of (port, complex, (n,)).")
      .def(
          "thermal_noise",
          [](const Circuit& c, const Array& frequency_hz, const std::string& port, double kelvin) {
            return thermal_noise(c, frequency_hz, port, kelvin).volt_per_root_hz;
          },
          py::arg("frequency_hz"), py::arg("port") = "", py::arg("kelvin") = room_kelvin, Release(),
          "Thermal noise density at a port in V per root Hz, shape (n,).");
  m.def(
      "read_circuit", [](const Path& file) { return read_circuit(file).value; }, py::arg("file"),
      "Reads a circuit file. Raises InputError.");
}

}  // namespace
}  // namespace ohmtilt::python

PYBIND11_MODULE(ohmtilt, m) {
  namespace python = ohmtilt::python;
  m.doc() =
      "What a source's output impedance does to an earphone: the values of the library as they\n"
      "are. Arrays have one value per frequency; units stand in the names.";
  m.attr("__version__") = OHMTILT_VERSION;
  py::register_exception<ohmtilt::InputError>(m, "InputError", PyExc_ValueError);
  py::register_exception<ohmtilt::OutputError>(m, "OutputError", PyExc_OSError);
  python::bind_values(m);
  python::bind_deviation(m);
  python::bind_damping(m);
  python::bind_pads(m);
  python::bind_circuits(m);
}
