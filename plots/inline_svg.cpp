#include <fmt/format.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <plots/drawing.h>
#include <plots/inline_svg.h>
#include <plots/script.h>
#include <plots/session.h>
#include <plots/simplified_path.h>
#include <plots/text.h>
#include <plots/theme.h>

#include <algorithm>
#include <boost/property_tree/ptree.hpp>
#include <boost/property_tree/xml_parser.hpp>
#include <cctype>
#include <cmath>
#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <sstream>

namespace ohmtilt::plots {
namespace {

using Tree = boost::property_tree::ptree;

constexpr std::size_t at_once = 4;  ///< gnuplot processes

// ---- colours -----------------------------------------------------------------------------------

/// "rgb(  0, 114, 178)" or "#0072B2" as "#0072b2"; nothing for a word.
std::optional<std::string> hexadecimal(const std::string& colour) {
  if (colour.starts_with('#')) return lower(colour);
  if (!colour.starts_with("rgb(")) return std::nullopt;
  std::string numbers = colour.substr(4);
  std::replace(numbers.begin(), numbers.end(), ',', ' ');
  std::istringstream stream(numbers);
  int red = 0, green = 0, blue = 0;
  if (!(stream >> red >> green >> blue)) return std::nullopt;
  return fmt::format("#{:02x}{:02x}{:02x}", red, green, blue);
}

/// A colour of the theme as the page's custom property; others as they stand.
std::string page_colour(const std::string& colour) {
  static const std::vector<PaletteEntry> entries = palette();
  if (colour == "black") return "var(--text)";  // gnuplot's own default
  const auto wanted = hexadecimal(colour);
  for (const auto& [property, hex] : entries)
    if (hex == wanted) return "var(" + property + ")";
  return colour;
}

// ---- elements ----------------------------------------------------------------------------------

const std::set<std::string> shapes = {"path", "rect", "circle", "polygon", "use"};
const std::set<std::string> colour_attributes = {"fill", "stroke", "color"};
/// With the value that SVG takes without them.
const std::map<std::string, std::string> plain_attributes = {{"d", ""},
                                                             {"points", ""},
                                                             {"x", ""},
                                                             {"y", ""},
                                                             {"width", ""},
                                                             {"height", ""},
                                                             {"r", ""},
                                                             {"cx", ""},
                                                             {"cy", ""},
                                                             {"transform", ""},
                                                             {"stroke-width", ""},
                                                             {"stroke-dasharray", ""},
                                                             {"stroke-linecap", "butt"},
                                                             {"stroke-linejoin", "miter"},
                                                             {"font-size", ""},
                                                             {"font-weight", ""},
                                                             {"text-anchor", "start"},
                                                             {"shape-rendering", ""}};

std::string attribute(const std::string& name, const std::string& value) {
  return fmt::format(" {}=\"{}\"", name, markup_escaped(value));
}

/// Rewrites what gnuplot drew, an element at a time.
class Rewriter {
 public:
  explicit Rewriter(const PageFigure& figure) : figure_(figure) {}

  std::string figure(const Tree& svg) {
    const Tree& canvas = svg.get_child("g");
    if (const auto definitions = canvas.get_child_optional("defs")) keep(*definitions);
    const std::string drawn = children(canvas);
    const auto width = svg.get<double>("<xmlattr>.width");
    const auto height = svg.get<double>("<xmlattr>.height");
    std::string text = fmt::format("<svg viewBox=\"0 0 {:g} {:g}\" role=\"img\"", width, height);
    text += attribute("aria-label", drawable(figure_.alternative)) + ">";
    return text + used_definitions() + "<g fill=\"none\">" + drawn + "</g></svg>";
  }

 private:
  void keep(const Tree& definitions) {
    for (const auto& [name, element] : definitions)
      if (const auto id = element.get_optional<std::string>("<xmlattr>.id"))
        definitions_.emplace_back(*id, std::pair(name, &element));
  }

  std::string children(const Tree& parent) {
    std::string text;
    for (const auto& [name, element] : parent) text += one(name, element);
    return text;
  }

  std::string one(const std::string& name, const Tree& element) {
    if (name == "g") return group(element);
    if (name == "text") return words(element);
    if (shapes.count(name) > 0) return shape(name, element);
    if (name == "<xmlattr>" || name == "<xmlcomment>" || name == "title" || name == "desc" ||
        name == "defs")
      return "";
    throw OutputError("gnuplot drew an element that a page does not take: " + printable(name));
  }

  std::string group(const Tree& element) {
    const std::string inside = children(element);
    if (inside.empty()) return "";
    const std::string how = attributes(element);
    return how.empty() ? inside : "<g" + how + ">" + inside + "</g>";
  }

  /// Blanks at the start set a text off from its mark; a page would drop them.
  std::string words(const Tree& element) {
    const std::string& data = element.data();
    const std::size_t start = data.find_first_not_of(' ');
    if (start == std::string::npos) return "";
    std::string text;
    for (std::size_t i = 0; i < start; ++i) text += "\u00a0";
    return "<text" + attributes(element) + ">" + text + markup_escaped(data.substr(start)) +
           "</text>";
  }

  std::string shape(const std::string& name, const Tree& element) {
    if (draws_nothing(name, element)) return "";
    return "<" + name + attributes(element) + "/>";
  }

  /// A path that only moves, and the paper behind everything.
  static bool draws_nothing(const std::string& name, const Tree& element) {
    const auto value = [&](const char* key) {
      return element.get<std::string>(std::string("<xmlattr>.") + key, "");
    };
    if (name == "path") return value("d").find_first_of("LHVCQAZlhvcqazm") == std::string::npos;
    return name == "rect" && value("x") == "0" && value("y") == "0";
  }

  std::string attributes(const Tree& element) {
    std::string text;
    const auto given = element.get_child_optional("<xmlattr>");
    if (!given) return text;
    for (const auto& [name, value] : *given) text += kept(name, value.data());
    return text;
  }

  std::string kept(const std::string& name, const std::string& value) {
    if (name == "xlink:href" || name == "href") return reference(value);
    if (name == "id") return attribute("id", own_id(value));
    if (colour_attributes.count(name) > 0) return attribute(name, page_colour(value));
    const auto plain = plain_attributes.find(name);
    if (plain == plain_attributes.end() || value == plain->second) return "";
    if (name == "d") return attribute(name, simplified_path(value));
    const std::size_t end = value.find_last_not_of(" \n\t");
    return attribute(name, value.substr(0, end == std::string::npos ? 0 : end + 1));
  }

  std::string reference(const std::string& value) {
    if (!value.starts_with('#')) throw OutputError("gnuplot drew a reference to outside");
    used_.insert(value.substr(1));
    return attribute("href", "#" + own_id(value.substr(1)));
  }

  std::string own_id(const std::string& id) const { return figure_.id + "-" + id; }

  /// Marks that were used, from the last to the first: one may be made of an earlier one.
  std::string used_definitions() {
    std::string text;
    for (auto at = definitions_.rbegin(); at != definitions_.rend(); ++at) {
      // No structured binding: clang 14 does not let a lambda capture one.
      if (used_.count(at->first) == 0) continue;
      text = shape(at->second.first, *at->second.second) + text;
    }
    return text.empty() ? "" : "<defs>" + text + "</defs>";
  }

  const PageFigure& figure_;
  std::vector<std::pair<std::string, std::pair<std::string, const Tree*>>> definitions_;
  std::set<std::string> used_;
};

// ---- drawing -----------------------------------------------------------------------------------

/// Of a crowded axis only the first tick and the decades, or every other tick, keep their texts.
void thin(Axis& axis) {
  std::size_t texts = 0;
  for (const Tick& tick : axis.ticks) texts += tick.text.empty() ? 0 : 1;
  if (texts <= 6) return;
  for (std::size_t i = 1; i < axis.ticks.size(); ++i) {
    const double decade = std::log10(axis.ticks[i].at);
    const bool stays = axis.scale == Scale::logarithmic
                           ? std::abs(decade - std::round(decade)) < 1e-9
                           : i % 2 == 0;
    if (!stays) axis.ticks[i].text.clear();
  }
}

std::string script_of(Sheet sheet, bool narrow) {
  sheet.title = sheet.subtitle = sheet.caption = "";
  if (!narrow) return script(sheet, Format::svg);
  for (Panel& panel : sheet.panels) {
    panel.remark.clear();
    thin(panel.x);
  }
  return script(sheet, Format::svg, phone_page());
}

std::string script_of(Schematic schematic, bool narrow) {
  schematic.title = schematic.caption = "";
  const Canvas canvas = narrow ? phone_page() : page();
  return script(drawing(schematic, canvas), Format::svg, canvas);
}

}  // namespace

std::vector<PaletteEntry> palette() {
  std::vector<PaletteEntry> entries = {{"--paper", "#ffffff"},    {"--text", text_colour},
                                       {"--quiet", quiet_colour}, {"--grid", grid_colour},
                                       {"--axis", axis_colour},   {"--rule", rule_colour},
                                       {"--strip", strip_colour}};
  entries.push_back({"--ink", colour(ink)});
  for (Series series = 0; series < 8; ++series)
    entries.push_back({fmt::format("--series-{}", series), colour(series)});
  for (Series series = 0; series < 8; ++series)
    entries.push_back({fmt::format("--tint-{}", series), tint(series)});
  return entries;
}

std::string inline_svg(const std::string& drawn, const PageFigure& figure) {
  try {
    std::istringstream stream(drawn);
    Tree document;
    boost::property_tree::read_xml(stream, document);
    return Rewriter(figure).figure(document.get_child("svg"));
  } catch (const boost::property_tree::ptree_error& error) {
    throw OutputError("gnuplot failed: its SVG is not understood: " + printable(error.what()));
  }
}

std::vector<std::string> inline_svgs(const std::vector<PageFigure>& figures,
                                     const std::function<void(double)>& progress) {
  std::vector<std::string> result;
  std::deque<std::unique_ptr<Session>> sessions;
  const auto finish_one = [&] {
    result.push_back(inline_svg(sessions.front()->finish(), figures[result.size()]));
    sessions.pop_front();
    if (progress)
      progress(static_cast<double>(result.size()) / static_cast<double>(figures.size()));
  };
  for (const PageFigure& figure : figures) {
    if (sessions.size() == at_once) finish_one();
    sessions.push_back(std::make_unique<Session>(std::visit(
        [&](const auto& content) { return script_of(content, figure.narrow); }, figure.content)));
  }
  while (!sessions.empty()) finish_one();
  return result;
}

}  // namespace ohmtilt::plots
