#include <ohmtilt/text/text.h>
#include <tools/ohmtilt/live/given.h>
#include <tools/ohmtilt/program/wording.h>

namespace ohmtilt::cli {
namespace {

Json state_json(const LiveGiven& given, const GivenFiles& files) {
  Json state{{"earphones", Json::array({files.name(given.earphones.front())})},
             {"from", valid_utf8(given.from)},
             {"to", valid_utf8(given.to)},
             {"kept", Json::array()},
             {"anchor", "1000"},
             {"limit", number_text(given.limit_db)}};
  for (const auto& one : given.kept) state["kept"].push_back(valid_utf8(one));
  return state;
}

}  // namespace

std::string given_json(const LiveGiven& given, const GivenFiles& files) {
  Json titles = Json::array();
  for (const auto& title : given.titles) titles.push_back(valid_utf8(printable(title)));
  Json json{{"title", valid_utf8(given.title)},
            {"files", files.json()},
            {"earphones", files.names_json(given.earphones)},
            {"titles", titles},
            {"sources", files.names_json(given.sources)},
            {"start", state_json(given, files)}};
  return json.dump();
}

}  // namespace ohmtilt::cli
