/// Zips and folders of masks that other programs wrote: which pictures are the masks, what their settings files say,
/// and what has to be asked (formats/archive-description.md).
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/result.hpp"

namespace hairline {

/// A setting by its dotted path in formats/layer-archive.md ("layers.height_mm", or "masks.invert" and its like), and
/// its value as text ("0.05", "true").
struct SettingValue {
  std::string path, value;
  bool operator==(const SettingValue&) const = default;
};

enum class SettingKind : std::uint8_t { number, whole, flag, text };

/// A setting that may be given for an archive.
struct SettingField {
  const char* path;
  SettingKind kind;
  const char* words;    ///< "layer height"
  const char* unit;     ///< "mm"; empty: none
  const char* option;   ///< "--height"; empty: by --set only
  const char* example;  ///< a usual value, to show how it is typed
  bool required;        ///< no archive is read without it
};
const std::vector<SettingField>& setting_fields();
/// Null: there is no such setting.
const SettingField* find_setting_field(std::string_view path);
/// What is typed to give it: "--height 0.05", "--set masks.invert=true".
std::string option_for(const SettingField& field, const std::string& value);
/// "PATH=VALUE" taken apart. Fails with usage (no "=", no such path; then the nearest one is named).
Result<SettingValue> parse_setting(const std::string& text);

/// How a settings file inside an archive is read.
enum class Syntax : std::uint8_t { json, ini, xml, text };

/// Where a description takes a setting from.
struct SettingSource {
  enum class From : std::uint8_t { constant, entry, ask };
  std::string path;  ///< as in SettingValue
  From from = From::constant;
  std::string value;  ///< constant: the value; ask: the question
  std::string entry;  ///< name of the file in the archive
  Syntax syntax = Syntax::json;
  std::string key;    ///< json: RFC 6901 pointer; ini: "section.key" or "key"; xml: XPath 1.0; text: RE2 with one group
  double factor = 1;  ///< what numbers are multiplied by
};

struct ArchiveDescription {
  std::string file;  ///< where it was read from; may be empty
  std::string label;
  std::string masks;           ///< names with one star; empty: the largest family of equal masks
  std::optional<bool> invert;  ///< unset: asked where the masks look inverted
  bool mirrored = false;
  std::optional<std::uint32_t>
      subpixels;  ///< grey values side by side in one colour pixel: 1 or 3; unset: as for invert
  std::vector<SettingSource> settings;
};

/// Fails with broken, version, invalid (a field, a pointer, an XPath, a regular expression), limit.
Result<ArchiveDescription> parse_description(const std::string& text, const std::string& file);
std::string write_description(const ArchiveDescription& description);
/// Fails as parse_description does, and with not_found and unreadable.
Result<ArchiveDescription> read_description(const std::filesystem::path& file);
/// All of a folder's *.json, by name; none where there is no such folder, or none that may be read. Fails as
/// read_description does.
Result<std::vector<ArchiveDescription>> read_descriptions(const std::filesystem::path& folder);

/// Where a person keeps descriptions: hairline/descriptions in $XDG_CONFIG_HOME, or in ~/.config (XDG Base Directory
/// Specification 0.8); empty where neither is known.
std::filesystem::path user_descriptions();

/// The text that a key leads to in a settings file; nothing where it is not there. Fails with broken where the file is
/// not of that syntax. `name`: of the file, for errors.
Result<std::optional<std::string>> find_value(const std::string& file_text, const std::string& name, Syntax syntax,
                                              const std::string& key);
/// The number that a text begins with, with a decimal comma or point ("0,05 mm": 0.05); none where it begins otherwise.
std::optional<double> leading_number(std::string_view text);

}  // namespace hairline
