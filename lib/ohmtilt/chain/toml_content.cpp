#include <ohmtilt/chain/toml_content.h>
#include <ohmtilt/text/text.h>

namespace ohmtilt {

bool is_toml_name(const std::filesystem::path& file) {
  return lower(file.extension().string()) == ".toml";
}

TomlContent content_of(const TomlTable& top) {
  if (top.has("part") || top.has("ports")) return TomlContent::circuit;
  if (top.has("impedance") || top.has("circuit")) return TomlContent::earphone;
  if (top.has("source") || top.has("stage")) return TomlContent::chain;
  return TomlContent::unknown;
}

std::optional<TomlTable> circuit_table(const std::filesystem::path& file) {
  if (!is_toml_name(file)) return std::nullopt;
  TomlTable table = read_toml(file);
  if (content_of(table) != TomlContent::circuit) return std::nullopt;
  return table;
}

}  // namespace ohmtilt
