#include <fmt/format.h>

#include <ohmtilt/chain/matched_pad.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <tools/live/source_spec.h>
#include <tools/ohmtilt/program/wording.h>
#include <algorithm>

namespace ohmtilt::live {
namespace {

constexpr std::string_view of_file = "file ", of_pad = "pad ";

[[noreturn]] void refuse(const std::string& spec) {
  throw InputError("\"" + printable(spec, 100) + "\" describes no source",
                   "give ohms, a file, or an L pad by decibels and ohms");
}

std::vector<std::string> split(const std::string& text, std::string_view at) {
  std::vector<std::string> parts;
  std::size_t start = 0, end = 0;
  while ((end = text.find(at, start)) != std::string::npos) {
    parts.push_back(text.substr(start, end - start));
    start = end + at.size();
  }
  parts.push_back(text.substr(start));
  return parts;
}

double number_of(const std::string& text, const std::string& spec) {
  const auto number = parse_number(text);
  if (!number) refuse(spec);
  return *number;
}

/// What the page says of one stage.
struct Change {
  std::size_t stage = 0;
  std::string key;  ///< empty: out
  double ohm = 0;
};

Change change_of(const std::string& text, const std::string& spec) {
  const auto words = split(text, " ");
  if (words.size() != 2) refuse(spec);
  const auto place = split(words[0], ".");
  const double stage = number_of(place[0], spec);
  if (!(stage >= 1 && stage <= double(stage_limit)) || stage != double(int(stage))) refuse(spec);
  if (place.size() == 1 && words[1] == "off") return {std::size_t(stage), "", 0};
  if (place.size() != 2 || place[1].empty()) refuse(spec);
  return {std::size_t(stage), place[1], number_of(words[1], spec)};
}

void change(Pad& pad, const Change& to, const std::string& spec) {
  const auto& keys = pad_keys(pad.topology);
  const auto key = std::find(keys.begin(), keys.end(), to.key);
  if (key == keys.end()) refuse(spec);
  pad.ohm[static_cast<std::size_t>(key - keys.begin())] = to.ohm;
}

Read<Chain> changed_chain(const std::string& spec) {
  const auto parts = split(spec.substr(of_file.size()), " | ");
  Read<Chain> read = read_any_chain(parts[0]);
  std::vector<Stage> stages = read.value.stages();
  std::vector<bool> out(stages.size());
  std::vector<std::string> words;
  for (std::size_t i = 1; i < parts.size(); ++i) {
    const Change one = change_of(parts[i], spec);
    if (one.stage > stages.size()) refuse(spec);
    Stage& stage = stages[one.stage - 1];
    if (one.key.empty()) {
      out[one.stage - 1] = true;
      words.push_back(fmt::format("without stage {}", one.stage));
    } else if (Pad* pad = std::get_if<Pad>(&stage)) {
      change(*pad, one, spec);
      words.push_back(fmt::format("{} {}", one.key, cli::ohm_text(one.ohm)));
    } else {
      refuse(spec);
    }
  }
  if (words.empty()) return read;
  std::vector<Stage> kept;
  for (std::size_t i = 0; i < stages.size(); ++i)
    if (!out[i]) kept.push_back(std::move(stages[i]));
  const Chain& chain = read.value;
  return {Chain(chain.title() + " (" + listed(words) + ")", chain.source(), std::move(kept)),
          std::move(read.warnings)};
}

Read<Chain> padded_chain(const std::string& spec, const std::string& behind) {
  const auto words = split(spec.substr(of_pad.size()), " ");
  if (words.size() != 2 || behind.starts_with(of_pad)) refuse(spec);
  const double db = number_of(words[0], spec), ohm = number_of(words[1], spec);
  const Pad pad = matched_pad(PadTopology::L, ohm, db);
  Read<Chain> read = behind.starts_with(of_file) ? changed_chain(behind) : read_any_chain(behind);
  std::vector<Stage> stages = read.value.stages();
  stages.push_back(pad);
  const std::string title =
      fmt::format("L pad of {} dB ({} in series, {} across) behind {}", number_text(db),
                  cli::ohm_text(pad.ohm[0]), cli::ohm_text(pad.ohm[1]), read.value.title());
  return {Chain(title, read.value.source(), std::move(stages))
              .with_label(fmt::format("L pad {} dB", number_text(db))),
          std::move(read.warnings)};
}

bool is_changed(const std::string& spec) { return spec.find(" | ") != std::string::npos; }

}  // namespace

TheveninSource source_of(const std::string& spec, const std::string& behind) {
  const bool pad = spec.starts_with(of_pad);
  if (!pad && !is_changed(spec))
    return read_source(spec.starts_with(of_file) ? spec.substr(of_file.size()) : spec);
  const Read<Chain> read = pad ? padded_chain(spec, behind) : changed_chain(spec);
  TheveninSource source = thevenin_source(read.value);
  append_new(source.warnings, read.warnings);
  return source;
}

Chain chain_of(const std::string& spec, const std::string& behind) {
  if (spec.starts_with(of_pad)) return padded_chain(spec, behind).value;
  return spec.starts_with(of_file) ? changed_chain(spec).value : read_any_chain(spec).value;
}

std::vector<StageValue> stage_values(const Chain& chain) {
  std::vector<StageValue> values;
  for (std::size_t i = 0; i < chain.stages().size(); ++i) {
    const Stage& stage = chain.stages()[i];
    const std::string label = stage_label(i, stage);
    values.push_back({i + 1, "", 0, label});
    const Pad* pad = std::get_if<Pad>(&stage);
    if (!pad) continue;
    for (const auto& key : pad_keys(pad->topology))
      values.push_back({i + 1, key, pad->value(key), label});
  }
  return values;
}

}  // namespace ohmtilt::live
