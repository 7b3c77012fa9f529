// Archive descriptions to values and back (formats/archive-description.md).
#include <fmt/format.h>
#include <re2/re2.h>

#include <array>
#include <nlohmann/json.hpp>
#include <pugixml.hpp>

#include "../base/fields.hpp"
#include "../base/json_files.hpp"
#include "../base/user_folder.hpp"
#include "hairline/files.hpp"
#include "hairline/foreign.hpp"
#include "names.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;
using From = SettingSource::From;

constexpr JsonKind description_kind{.format = "archive-description",
                                    .damaged = "Look for a missing comma, quote or bracket, or draft it anew.",
                                    .other = "Draft one with \"hairline describe ARCHIVE\".",
                                    .convert = "Draft it anew with \"hairline describe ARCHIVE\"."};
constexpr std::array syntax_words{"json", "ini", "xml", "text"};  // as in Syntax
constexpr Range factor_range{-1e9, 1e9};
constexpr std::size_t most_key_bytes = 1000;
constexpr std::uint64_t most_description_bytes = 1u << 20;

// What is wrong with a key; empty: nothing.
std::string fault_of(Syntax syntax, const std::string& key) {
  if (key.size() > most_key_bytes) return fmt::format("of at most {} bytes", most_key_bytes);
  if (syntax == Syntax::json) {
    try {
      const Json::json_pointer pointer(key);
    } catch (const Json::exception&) {
      return "a pointer such as \"/exposure/time\" (RFC 6901)";
    }
  } else if (syntax == Syntax::xml) {
    try {
      const pugi::xpath_query query(key.c_str());
    } catch (const pugi::xpath_exception&) {
      return "a path such as \"/job/layer/@height\" (XPath 1.0)";
    }
  } else if (syntax == Syntax::text) {
    RE2::Options options;
    options.set_log_errors(false);
    const RE2 pattern(key, options);
    if (!pattern.ok()) return fmt::format("a regular expression ({})", pattern.error());
    if (pattern.NumberOfCapturingGroups() != 1) return "a regular expression with one group in round brackets";
  }
  return key.empty() && syntax != Syntax::json ? "not empty" : "";
}

std::string text_of(const Json& value) {
  return value.is_string() ? value.get<std::string>() : json_text(value);
}

SettingSource read_source(const std::string& path, const Fields& from) {
  SettingSource out;
  out.path = path;
  if (from.has("ask")) {
    out.from = From::ask;
    out.value = from.text("ask");
  } else if (const Json* constant = from.find("constant")) {
    if (constant->is_structured()) from.wrong("constant", "a number, a text, true or false");
    out.value = text_of(*constant);
  } else {
    out.from = From::entry;
    out.entry = from.text("entry");
    if (!from.error() && !archive::stays_inside(out.entry))
      from.wrong("entry", "a name that stays inside the archive, with forward slashes");
    out.syntax = static_cast<Syntax>(from.word("syntax", syntax_words));
    out.key = from.text("key");
    if (const std::string fault = fault_of(out.syntax, out.key); !from.error() && !fault.empty())
      from.wrong("key", fault);
    out.factor = from.optional_number("factor", factor_range).value_or(1);
  }
  return out;
}

void read_masks(const Fields& masks, ArchiveDescription& out) {
  out.masks = masks.optional_text("files");
  if (!out.masks.empty() && !archive::is_pattern(out.masks))
    masks.wrong("files", "a path inside the archive with one star, such as \"out/*.png\"");
  if (masks.has("invert")) out.invert = masks.flag("invert");
  out.mirrored = masks.optional_flag("mirrored");
  out.subpixels = masks.optional_whole("subpixels", {1, 3});
  if (out.subpixels == 2) masks.wrong("subpixels", "1 or 3");
}

}  // namespace

Result<ArchiveDescription> parse_description(const std::string& text, const std::string& file) {
  const auto top = read_json(without_byte_order_mark(text), file, description_kind);
  if (!top) return tl::unexpected(top.error());
  ArchiveDescription out;
  out.file = file;
  out.label = top->optional_text("label");
  read_masks(top->optional_object("masks"), out);
  for (const auto& [path, from] : top->optional_members("settings")) {
    if (find_setting_field(path) == nullptr)
      top->wrong("settings", fmt::format("names \"{}\"", path), "paths of a layer archive's manifest");
    out.settings.push_back(read_source(path, from));
  }
  if (top->error()) return tl::unexpected(*top->error());
  return out;
}

std::string write_description(const ArchiveDescription& description) {
  Json out{{"format", "archive-description"}, {"version", 1}, {"label", description.label}};
  Json& masks = out["masks"] = Json::object();
  if (!description.masks.empty()) masks["files"] = description.masks;
  if (description.invert) masks["invert"] = *description.invert;
  masks["mirrored"] = description.mirrored;
  if (description.subpixels) masks["subpixels"] = *description.subpixels;
  Json& settings = out["settings"] = Json::object();
  for (const SettingSource& one : description.settings) {
    Json& to = settings[one.path] = Json::object();
    if (one.from == From::ask) {
      to["ask"] = one.value;
    } else if (one.from == From::constant) {
      const SettingField* field = find_setting_field(one.path);
      const bool is_text = field != nullptr && field->kind == SettingKind::text;  // "1.10" is no number then
      const Json value = is_text ? Json(one.value) : json_in(one.value);
      to["constant"] = value.is_discarded() || value.is_structured() ? Json(one.value) : value;
    } else {
      to["entry"] = one.entry;
      to["syntax"] = syntax_words[static_cast<std::size_t>(one.syntax)];
      to["key"] = one.key;
      if (one.factor != 1) to["factor"] = one.factor;
    }
  }
  return json_text(out, 2) + "\n";
}

Result<ArchiveDescription> read_description(const fs::path& file) {
  const auto text = read_text(file, most_description_bytes);
  if (!text) return tl::unexpected(text.error());
  return parse_description(*text, file.string());
}

fs::path user_descriptions() {
  const fs::path config = user_folder("XDG_CONFIG_HOME", ".config");
  return config.empty() ? config : config / "descriptions";
}

Result<std::vector<ArchiveDescription>> read_descriptions(const fs::path& folder) {
  const auto files = json_files_in(folder, "a folder of descriptions");
  std::vector<ArchiveDescription> out;
  for (const fs::path& file : files.value_or(std::vector<fs::path>())) {
    auto one = read_description(file);
    if (!one) return tl::unexpected(std::move(one.error()));
    out.push_back(std::move(*one));
  }
  return out;
}

}  // namespace hairline
