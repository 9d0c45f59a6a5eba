// What the live page asks of the library. Text goes in through one piece of memory, answers come
// out as named arrays and texts (reply.h); a refused request answers with "error" alone. Nothing is
// worked out here that a command would not work out: the same readers, analyses and words.
#include <fmt/format.h>

#include <ohmtilt/analysis/deviation/comparison.h>
#include <ohmtilt/base/constants.h>
#include <ohmtilt/base/decibel.h>
#include <ohmtilt/chain/bias.h>
#include <ohmtilt/chain/read_chain.h>
#include <ohmtilt/curve/interpolation.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/text.h>
#include <ohmtilt/text/warnings.h>
#include <tools/live/given_files.h>
#include <tools/live/measuring.h>
#include <tools/live/reply.h>
#include <tools/live/source_spec.h>
#include <tools/ohmtilt/commands/damping.h>
#include <tools/ohmtilt/commands/deviation.h>
#include <tools/ohmtilt/commands/headroom.h>
#include <tools/ohmtilt/commands/hiss.h>
#include <algorithm>
#include <cstring>
#include <map>
#include <memory>
#include <new>

namespace ohmtilt::live {
namespace {

using cli::conclusion;

std::string room;
Reply reply;

// ---- what was read is kept ----------------------------------------------------------------------

/// An earphone and what is worked out of it once.
struct Opened {
  Earphone earphone;
  std::optional<CurveErrors> errors;
  std::optional<DampingEarphone> damping;
};

std::map<std::string, Opened> earphones;
std::map<std::string, TheveninSource> sources;
constexpr std::size_t most_kept = 64;

Opened& opened(const std::string& name) {
  const auto known = earphones.find(name);
  if (known != earphones.end()) return known->second;
  return earphones.emplace(name, Opened{read_earphone(name), std::nullopt, std::nullopt})
      .first->second;
}

const TheveninSource& source(const std::string& spec, const std::string& behind) {
  const std::string key = spec + "\n" + (spec.starts_with("pad ") ? behind : "");
  const auto known = sources.find(key);
  if (known != sources.end()) return known->second;
  TheveninSource made = source_of(spec, behind);
  if (sources.size() >= most_kept) sources.clear();
  return sources.emplace(key, std::move(made)).first->second;
}

// The request.

struct Request {
  std::string earphone, from = "0";
  std::vector<std::string> to;
  ComparisonOptions how;
  Words words;  ///< all of them
};

double number_of(const std::string& text) {
  const auto number = parse_number(text);
  if (!number) throw InputError("\"" + printable(text, 40) + "\" is no number", "write one");
  return *number;
}

Anchor anchor_of(const std::string& text) {
  if (text == "none") return NoAnchor{};
  const auto dash = text.find('-');
  if (dash == std::string::npos) return AnchorFrequency{number_of(text)};
  return AnchorBand{number_of(text.substr(0, dash)), number_of(text.substr(dash + 1))};
}

void take(const std::string& key, const std::string& value, Request& request) {
  request.words[key].push_back(value);
  if (key == "earphone") request.earphone = value;
  if (key == "from") request.from = value;
  if (key == "to") request.to.push_back(value);
  if (key == "anchor") request.how.anchor = anchor_of(value);
  if (key == "limit") request.how.limit_db = number_of(value);
}

/// Lines "KEY VALUE".
Request request_of(const std::string& text) {
  Request request;
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    const std::string line = text.substr(start, end - start);
    const std::size_t blank = std::min(line.find(' '), line.size());
    take(line.substr(0, blank), blank < line.size() ? line.substr(blank + 1) : "", request);
    start = end + 1;
  }
  return request;
}

struct Sources {
  TheveninSource from;
  std::vector<TheveninSource> to;
};

Sources sources_of(const Request& request) {
  std::vector<TheveninSource> all{source(request.from, "0")};
  for (const auto& to : request.to) all.push_back(source(to, request.from));
  tell_apart(all);
  Sources found{std::move(all.front()), {}};
  found.to.assign(std::make_move_iterator(all.begin() + 1), std::make_move_iterator(all.end()));
  return found;
}

// The answers.

/// Both 95 % limits of the deviation, where the curve leaves it open.
void put_limits(const ComparedSource& one, const std::string& number) {
  if (!one.interval) return;
  reply.put("lower_db" + number, one.interval->lower_95_db);
  reply.put("upper_db" + number, one.interval->upper_95_db);
}

void put_case(const Comparison& comparison, const ComparedSource& one, const std::string& number) {
  const Deviation& d = one.deviation;
  reply.put("deviation_db" + number, d.deviation_db);
  if (one.response_db.size() > 0) reply.put("response_db" + number, one.response_db);
  put_limits(one, number);
  reply.put("figures" + number,
            std::vector<double>{d.span_db, d.level_change_db, d.rms_db, d.erb_span_db, d.rise.hz,
                                d.rise.db, d.fall.hz, d.fall.db, one.output_ohm, d.bound_db});
  reply.put("label" + number, printable(one.label));
  reply.put("short" + number, printable(one.short_label));
  reply.put("conclusion" + number, conclusion(one));
  reply.put("uncertainty" + number, cli::uncertainty_text(one));
  reply.put("span" + number, cli::db_text(d.span_db));
  reply.put("verdict" + number, std::string(cli::span_step(d.span_db).short_name));
  reply.put("level" + number, cli::signed_db(d.level_change_db));
  reply.put("rows" + number, cli::case_rows(comparison, one));
}

std::string about(const Earphone& earphone, const Comparison& comparison) {
  const Array ohm = comparison.load_ohm.abs();
  return fmt::format("{} to {}, {}", cli::ohm_text(ohm.minCoeff()), cli::ohm_text(ohm.maxCoeff()),
                     cli::phase_text(earphone.phase));
}

void answer_comparison(const Request& request) {
  Opened& one = opened(request.earphone);
  const Earphone& earphone = one.earphone;
  if (!one.errors) one.errors = errors_of(earphone);
  const Sources sources = sources_of(request);
  ComparisonOptions how = request.how;
  if (one.errors) how.errors = &*one.errors;
  const Comparison found = compare_sources(earphone, sources.from, sources.to, how);
  reply.put("title", printable(earphone.title));
  reply.put("about", about(earphone, found));
  reply.put("hz", found.grid.grid_hz);
  reply.put("ohm", Array(found.load_ohm.abs()));
  reply.put("phase_deg", unwrapped_deg(found.load_ohm.arg() / degree));
  if (found.response_before_db.size() > 0) reply.put("before_db", found.response_before_db);
  reply.put("from", printable(found.from_label));
  reply.put("from_ohm", std::vector<double>{found.from_ohm});
  for (std::size_t i = 0; i < found.cases.size(); ++i)
    put_case(found, found.cases[i], std::to_string(i));
  reply.put("headline", cli::headline(found.from_label, found.cases));
  reply.put("anchor", cli::anchor_text(found.grid.anchor));
  if (found.largest_source) reply.put("largest", cli::largest_source_text(found));
  if (found.largest_source)
    reply.put("largest_ohm", std::vector<double>{found.largest_source->ohm.value_or(NAN)});
  std::vector<TheveninSource> all{sources.from};
  all.insert(all.end(), sources.to.begin(), sources.to.end());
  reply.put("cautions", bias_cautions(all, earphone));
  reply.put("warnings", found.warnings);
}

/// Q of each resonance over the source's resistance, and in words what the sources do to it.
void answer_damping(const Request& request) {
  Opened& one = opened(request.earphone);
  if (!one.damping) one.damping = damping_earphone(one.earphone, request.how.band);
  const Sources sources = sources_of(request);
  cli::DampingFound found{*one.damping, {damping_source(sources.from)}, {}};
  for (const auto& to : sources.to) found.sources.push_back(damping_source(to));
  DampingOptions how;
  how.band = request.how.band;
  how.locus = true;
  found.damping = damping(found.earphone, found.sources, how);
  const plots::DampingFigure figure = cli::figure_of(found);
  reply.put("source_ohm", figure.source_ohm);
  std::vector<std::string> names;
  for (std::size_t i = 0; i < figure.modes.size(); ++i) {
    names.push_back(figure.modes[i].label);
    reply.put("q" + std::to_string(i), figure.modes[i].q);
  }
  reply.put("modes", names);
  std::vector<double> ohm;
  for (const auto& source : found.sources) ohm.push_back(source.output_ohm);
  reply.put("at_ohm", ohm);
  reply.put("conclusion", conclusion(found));
  const auto tables = cli::mode_tables(found.damping);
  if (!tables.empty()) reply.put("rows", tables.front());
  reply.put("warnings", found.damping.warnings);
}

/// What work() puts, or why there is nothing.
template <class Work>
void attempt(const char* otherwise, const Work& work) {
  try {
    work();
  } catch (const InputError& error) {
    reply.put(otherwise, std::string(error.what()));
  }
}

cli::ChainInput level_input(const Request& request) {
  cli::ChainInput input{chain_of(request.to.at(0), request.from),
                        opened(request.earphone).earphone,
                        chain_of(request.from, "0"),
                        {}};
  return input;
}

/// Of the other source only where its file says enough.
template <class Analysis, class How>
auto asked(const Request& request, const How& how, const Analysis& analysis) {
  cli::ChainInput both = level_input(request);
  try {
    return cli::ask(both, how, analysis);
  } catch (const InputError&) {
    both.against.reset();
    return cli::ask(both, how, analysis);
  }
}

void answer_levels(const Request& request) {
  attempt("headroom_gap", [&] {
    const auto found = asked(request, HeadroomOptions(), headroom);
    std::vector<std::string> said{conclusion(found.result.target) + "."};
    if (found.against)
      said.push_back(fmt::format("With {}: {}.", printable(found.input.against->title()),
                                 conclusion(found.against->target)));
    said.push_back(cli::hearing_text(found.result) + " " + cli::player_text(found.result) + " " +
                   cli::needed_volt_text(found.result));
    reply.put("headroom", said);
    reply.put("headroom_rows", cli::target_rows(found));
    if (!found.result.gain.empty()) {
      const VolumeLaw& law = *found.input.chain.source().volume;
      reply.put("gain_rows", cli::gain_rows(law, found.result.gain));
      reply.put("gain_notes", cli::gain_notes(found.result));
    }
    reply.put("cautions", found.cautions());
  });
  attempt("hiss_gap", [&] {
    const auto found = asked(request, HissOptions(), hiss);
    std::vector<std::string> said{
        fmt::format("{}; {}.", conclusion(found.result), cli::bands_text(found.result))};
    if (found.against)
      said.push_back(
          fmt::format("With {}: {} in total. {}.", printable(found.input.against->title()),
                      cli::dba_text(found.against->level_dba), conclusion(*found.against)));
    reply.put("hiss", said);
    reply.put("hiss_rows", cli::parts_rows(found.result));
  });
}

void answer_source(const Request& request) {
  const Chain chain = chain_of(request.from, "0");
  reply.put("title", printable(chain.title()));
  std::vector<std::vector<std::string>> rows;
  for (const auto& value : stage_values(chain))
    rows.push_back({std::to_string(value.stage), value.key, number_text(value.ohm), value.label});
  reply.put("values", rows);
  reply.put("warnings", source(request.from, "0").warnings);
}

void answer_open(const Request& request) {
  const Earphone& earphone = opened(request.earphone).earphone;
  reply.put("title", printable(earphone.title));
  reply.put("kind", printable(earphone.kind));
  reply.put("warnings", earphone.warnings);
}

const std::map<std::string, void (*)(const Request&)> questions{
    {"open", answer_open},
    {"source", answer_source},
    {"compare", answer_comparison},
    {"damping", answer_damping},
    {"levels", answer_levels},
    {"cautions", [](const Request&) { answer_measuring_cautions(reply); }},
    {"stimulus", [](const Request& request) { answer_stimulus(request.words, reply); }},
    {"recorded", [](const Request& request) { answer_recorded(request.words, reply); }},
    {"impedance", [](const Request& request) { answer_impedance(request.words, reply); }},
    {"sides",
     [](const Request& request) { answer_sides(request.earphone, request.to.at(0), reply); }},
};

void refused(const std::string& why) {
  reply.clear();
  reply.put("error", why);
}

}  // namespace

// What the page calls.

#define OHMTILT_EXPORT(name) extern "C" __attribute__((export_name(#name)))

/// Room for size bytes of text from the page.
OHMTILT_EXPORT(room) char* live_room(std::size_t size) {
  try {
    room.resize(size);
    return room.data();
  } catch (const std::bad_alloc&) {
    return nullptr;
  }
}

/// The room holds a name of that many bytes, then a file's bytes. What was read of files of before
/// is forgotten.
OHMTILT_EXPORT(give) void live_give(std::size_t name_size) {
  give_file(room.substr(0, name_size), room.substr(name_size));
  std::string().swap(room);
  earphones.clear();
  sources.clear();
}

OHMTILT_EXPORT(forget) void live_forget() {
  take_file_away(room);
  earphones.clear();
  sources.clear();
}

/// The room holds a name of that many bytes, as many bytes of zeros as bring what follows to a
/// multiple of four, and then samples: 32-bit floats, channels interleaved.
OHMTILT_EXPORT(give_sound)
void live_give_sound(std::size_t name_size, double rate_hz, int channels) {
  const std::size_t start = (name_size + 3) / 4 * 4;
  std::vector<float> samples((room.size() - start) / sizeof(float));
  std::memcpy(samples.data(), room.data() + start, samples.size() * sizeof(float));
  const std::string name = room.substr(0, name_size);
  std::string().swap(room);
  give_sound(name, rate_hz, channels, std::move(samples));
}

/// Recordings take room; what was made of them stays.
OHMTILT_EXPORT(forget_sounds) void live_forget_sounds() { take_sounds_away(); }

/// The room holds a question, a line end, and the request. How many entries the answer has.
OHMTILT_EXPORT(ask) std::size_t live_ask() {
  reply.clear();
  try {
    const std::size_t end = std::min(room.find('\n'), room.size());
    const auto question = questions.find(room.substr(0, end));
    if (question != questions.end())
      question->second(request_of(room.substr(std::min(end + 1, room.size()))));
    else
      refused("there is no such question");
  } catch (const InputError& error) {
    refused(error.what());
  } catch (const std::bad_alloc&) {
    refused("there is not enough memory for this input; use a smaller file");
  } catch (const std::exception& error) {
    refused(std::string("internal error: ") + error.what() + "; please report it");
  }
  return reply.entries().size();
}

/// Where the answer's entries are.
OHMTILT_EXPORT(entries) const Reply::Entry* live_entries() { return reply.entries().data(); }

}  // namespace ohmtilt::live
