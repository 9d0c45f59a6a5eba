#include <ohmtilt/chain/chain_keys.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/circuit/tolerance_detail.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/strict_toml.h>

#include <set>

namespace ohmtilt {
namespace {

/// Lines "key = value".
class Lines {
 public:
  void head(const std::string& line) { text_ += line + "\n"; }
  void as_they_are(const std::string& lines) { text_ += lines; }
  void number(const std::string& key, double value) {
    text_ += key + " = " + toml_number(value) + "\n";
  }
  void number(const std::string& key, const std::optional<double>& value) {
    if (value) number(key, *value);
  }
  /// Leaves out what is zero, the default.
  void non_zero(const std::string& key, double value) {
    if (value != 0) number(key, value);
  }
  void words(const std::string& key, std::string_view value) {
    text_ += key + " = " + toml_quoted(value) + "\n";
  }
  void file(const std::string& key, const std::string& name) {
    if (name.empty())
      throw InputError("`" + key + "` was made in memory and has no file", "write it to one first");
    words(key, name);
  }
  const std::string& text() const { return text_; }

 private:
  std::string text_;
};

void write(Lines& lines, const VolumeLaw& law) {
  lines.head("[source.volume]");
  lines.words("law", law_name(law));
  if (const auto* steps = std::get_if<DecibelSteps>(&law)) lines.number("step_db", steps->step_db);
  if (const auto* table = std::get_if<VolumeTable>(&law)) lines.file("file", table->file);
}

void write(Lines& lines, const PowerPoint& point) {
  lines.head("[[source.power]]");
  lines.number("load_ohm", point.load_ohm);
  lines.number("watt", point.watt);
  if (point.duration_ms == continuous_ms)
    lines.words("duration_ms", "continuous");
  else
    lines.number("duration_ms", point.duration_ms);
  lines.number("distortion_percent", point.distortion_percent);
  if (point.balanced) lines.head(std::string("balanced = ") + (*point.balanced ? "true" : "false"));
  if (!point.supply.empty()) lines.words("supply", point.supply);
}

std::string list_text(const std::vector<double>& values) {
  std::string text;
  for (const double value : values) text += (text.empty() ? "[" : ", ") + toml_number(value);
  return text + "]";
}

template <HasChainKeys Of>
void write_keys(Lines& lines, const Of& of) {
  std::set<std::string_view> absent;
  each_chain_key(of, [&](const ChainKey<Of>& key, const auto& value) {
    using Value = std::decay_t<decltype(value)>;
    if (absent.contains(key.beside)) return;
    if constexpr (std::is_same_v<Value, bool>) {
      if (value) lines.head(key.key + std::string(" = true"));
    } else if constexpr (std::is_same_v<Value, NoiseWeighting>) {
      lines.words(key.key, value == NoiseWeighting::a ? "A" : "flat");
    } else if constexpr (std::is_same_v<Value, std::vector<double>>) {
      if (!value.empty()) lines.head(key.key + (" = " + list_text(value)));
    } else if constexpr (std::is_same_v<Value, double>) {
      if (key.required || value != 0) lines.number(key.key, value);
    } else {
      lines.number(key.key, value);
      if (!value) absent.insert(key.key);
    }
  });
}

void write(Lines& lines, const Source& source) {
  lines.head("[source]");
  if (source.output_curve)
    lines.file("output_curve", source.output_curve_file);
  else
    lines.number("output_ohm", source.output_ohm);
  write_keys(lines, source);
  if (source.volume) write(lines, *source.volume);
  for (const auto& point : source.power) write(lines, point);
}

void write(Lines& lines, const Pad& pad) {
  lines.words("topology", topology_name(pad.topology));
  const auto& keys = pad_keys(pad.topology);
  for (std::size_t i = 0; i < keys.size(); ++i) lines.number(keys[i], pad.ohm[i]);
  lines.non_zero("tolerance_percent", pad.tolerance_percent);
  lines.as_they_are(tolerance_detail_lines(pad.tolerance_detail));
}

template <HasChainKeys Of>
void write(Lines& lines, const Of& of) {
  write_keys(lines, of);
}

void write(Lines& lines, const VolumeStage& volume) {
  lines.number("total_ohm", volume.total_ohm);
  lines.number("travel_percent", volume.travel_percent);
  lines.words("law",
              std::holds_alternative<AudioTaper>(volume.law) ? "audio-taper" : "linear-taper");
}

void write(Lines& lines, const CircuitStage& stage) { lines.file("file", stage.file); }

void write(Lines& lines, const TwoPortStage& stage) {
  lines.file("file", stage.file);
  if (stage.reversed) lines.number("source_port", 2);
}

}  // namespace

std::string chain_text(const Chain& chain) {
  Lines lines;
  lines.words("title", chain.title());
  if (!chain.label().empty()) lines.words("label", chain.label());
  write(lines, chain.source());
  for (const auto& stage : chain.stages()) {
    lines.head("[[stage]]");
    lines.words("kind", kind_name(stage));
    std::visit([&](const auto& one) { write(lines, one); }, stage);
  }
  return lines.text();
}

}  // namespace ohmtilt
