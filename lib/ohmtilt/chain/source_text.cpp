#include <ohmtilt/chain/source_text.h>
#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/text/error.h>
#include <ohmtilt/text/resistor_code.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {
namespace {

std::optional<double> coded_ohm(const std::string& text) {
  try {
    return parse_resistance_code(text);
  } catch (const InputError&) {  // the caller's message names everything that would do
    return std::nullopt;
  }
}

/// "6" of "6 ohm", as the program itself writes it.
std::string_view without_unit(std::string_view text) {
  for (const std::string_view unit : {" ohms", " ohm", " Ω", "Ω"})
    if (text.ends_with(unit)) return text.substr(0, text.size() - unit.size());
  return text;
}

}  // namespace

SourceText understood_source(const std::string& text) {
  if (const auto ohm = parse_number(without_unit(text))) return {ohm, {}, false};
  std::error_code ignored;
  if (std::filesystem::exists(text, ignored)) return {std::nullopt, text, is_toml_name(text)};
  if (const auto ohm = coded_ohm(text)) return {ohm, {}, false};
  throw InputError("\"" + printable(text) + "\" is neither a resistance nor a file that exists",
                   "give ohms (6), a code (6R0), or the name of a curve or chain file");
}

}  // namespace ohmtilt
