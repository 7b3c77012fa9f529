// The settings that may be given for an archive, by their paths in formats/layer-archive.md.
#include <fmt/format.h>

#include "../base/numbers.hpp"
#include "hairline/files.hpp"
#include "hairline/foreign.hpp"

namespace hairline {

const std::vector<SettingField>& setting_fields() {
  using enum SettingKind;
  static const std::vector<SettingField> fields = {
      {"title", text, "title", "", "", "gallery", false},
      {"image.pitch_x_mm", number, "pixel pitch", "mm", "--pitch", "0.05", true},
      {"image.pitch_y_mm", number, "pixel pitch", "mm", "--pitch", "0.05", true},
      {"image.mirrored", flag, "mirrored", "", "", "true", false},
      {"image.width_px", whole, "width of the masks", "pixels", "", "1440", false},
      {"image.height_px", whole, "height of the masks", "pixels", "", "2560", false},
      {"layers.count", whole, "number of layers", "", "", "1842", false},
      {"layers.height_mm", number, "layer height", "mm", "--height", "0.05", true},
      {"exposure.normal_s", number, "exposure time", "s", "--exposure", "2.5", true},
      {"exposure.base_s", number, "base exposure", "s", "--base", "30", false},
      {"exposure.base_layers", whole, "number of base layers", "", "--base-layers", "5", false},
      {"exposure.transition_layers", whole, "number of transition layers", "", "", "0", false},
      {"motion.lift_mm", number, "lift height", "mm", "", "6", false},
      {"motion.lift_mm_per_min", number, "lift speed", "mm/min", "", "60", false},
      {"motion.retract_mm_per_min", number, "retract speed", "mm/min", "", "150", false},
      {"motion.rest_before_s", number, "rest before exposure", "s", "", "0", false},
      {"motion.rest_after_s", number, "rest after exposure", "s", "", "0.5", false},
      {"resin.label", text, "resin", "", "", "harbour grey", false},
      {"resin.density_g_per_ml", number, "resin density", "g/ml", "", "1.1", false},
      {"printer.label", text, "printer", "", "", "quay bench", false},
      {"masks.files", text, "names of the masks", "", "", "out/*.png", false},
      {"masks.invert", flag, "whether white is where no light falls", "", "", "true", false},
      {"masks.mirrored", flag, "whether the masks are mirrored", "", "", "true", false},
      {"masks.subpixels", whole, "grey values side by side in one colour pixel", "", "", "3", false},
  };
  return fields;
}

const SettingField* find_setting_field(std::string_view path) {
  for (const SettingField& field : setting_fields())
    if (path == field.path) return &field;
  return nullptr;
}

std::string option_for(const SettingField& field, const std::string& value) {
  if (*field.option) return fmt::format("{} {}", field.option, value);
  return "--set " + shell_word(fmt::format("{}={}", field.path, value));
}

Result<SettingValue> parse_setting(const std::string& text) {
  const auto fail = [&](std::string found, std::string expected, std::string advice) {
    return tl::unexpected(Error{ErrorKind::usage, "", std::move(found), std::move(expected), std::move(advice)});
  };
  const std::size_t at = text.find('=');
  if (at == std::string::npos)
    return fail(fmt::format("--set is \"{}\"", text), "PATH=VALUE", "Write for example --set layers.height_mm=0.05.");
  SettingValue out{text.substr(0, at), text.substr(at + 1)};
  if (const SettingField* field = find_setting_field(out.path)) {
    if (field->kind != SettingKind::number) return out;
    const Range range{0, 1e6, false, field->unit};
    const TypedNumber typed = typed_number(out.value, range);
    if (typed.value) out.value = fmt::format("{}", *typed.value);
    if (typed.problem.empty()) return out;  // what is no number is told with its entry
    return fail(fmt::format("{} is {}", out.path, quoted(out.value, range)),
                fmt::format("a number in {}, such as {}", field->unit, field->example), "Correct the value.");
  }
  std::string all;
  for (const SettingField& field : setting_fields()) all += (all.empty() ? "" : ", ") + std::string(field.path);
  return fail(fmt::format("\"{}\" is no setting", out.path), "one of " + all, "Correct the path.");
}

}  // namespace hairline
