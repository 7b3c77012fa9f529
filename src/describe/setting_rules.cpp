#include "setting_rules.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <bit>
#include <cmath>

namespace hairline::archive {
namespace {

using namespace meaning;

constexpr Meanings moving = lift | retract | speed | is_speed;
constexpr Meanings early = base | transition;
constexpr Meanings axis = wide | tall | up_z;

std::vector<SettingRule> make_rules() {
  const Sureness likely = Sureness::likely, unsure = Sureness::unsure;
  const Meanings no_height =
      other | early | moving | rest | exposure | time | total | plate | pixel | countish | wide | tall;
  const Meanings no_time =
      other | countish | moving | rest | total | axis | height | thickness | pixel | density | volume;
  const Meanings no_pitch = other | layer | up_z | exposure | time | rest | moving | countish | plate;
  const Meanings no_size = other | layer | exposure | time | rest | moving | up_z | countish | thickness;
  const Meanings no_move = other | base | transition | rest | time | is_time | countish;
  return {
      {"layers.height_mm",
       {layer | up_z, height | thickness | is_length | size | pitch | distance},
       no_height | resolution,
       0,
       is_length,
       0.005,
       0.3,
       Sureness::sure},
      {"layers.height_mm", {layer | up_z, resolution}, no_height, 0, is_length, 0.005, 0.3, likely},
      {"layers.height_mm", {thickness}, no_height, 0, is_length, 0.005, 0.3, likely},
      {"exposure.normal_s",
       {exposure, exposure | normal | time | is_time},
       no_time | early,
       rest | before | after,
       is_time,
       0.1,
       120,
       Sureness::sure},
      {"exposure.normal_s",
       {layer | normal, time | is_time},
       no_time | early | plural,
       rest | before | after,
       is_time,
       0.1,
       120,
       unsure},
      {"exposure.base_s",
       {base, exposure, base | exposure | time | is_time},
       no_time | transition,
       rest | before | after,
       is_time,
       1,
       600,
       Sureness::sure},
      {"exposure.base_s", {base, time | is_time}, no_time | transition, rest | before | after, is_time, 1, 600, likely},
      {"exposure.base_layers",
       {base, layer | countish},
       other | transition | moving | rest,
       time | is_time | height | thickness | is_length,
       countish,
       0,
       100,
       Sureness::sure},
      {"exposure.transition_layers",
       {transition, layer | countish},
       other | moving | rest,
       time | is_time,
       countish,
       0,
       200,
       Sureness::sure},
      {"layers.count", {layer | mask, countish}, other | early | moving | rest, time, countish, 1, 100000, likely},
      {"layers.count", {count}, other | early | moving | rest | exposure | pixel, time, countish, 1, 100000, unsure},
      {"motion.lift_mm",
       {lift, distance | height | is_length | size | up_z | lift},
       no_move | speed | is_speed | retract,
       0,
       is_length,
       0.5,
       100,
       Sureness::sure},
      {"motion.lift_mm_per_min",
       {lift, speed | is_speed},
       no_move | distance,
       retract,
       is_speed,
       10,
       1000,
       Sureness::sure},
      {"motion.retract_mm_per_min",
       {retract, speed | is_speed},
       no_move | distance,
       lift,
       is_speed,
       10,
       1000,
       Sureness::sure},
      {"motion.rest_s",
       {rest},
       other | base | transition | speed | is_speed | distance | is_length | countish | total,
       0,
       is_time,
       0.05,
       60,
       Sureness::sure},
      {"image.pitch_mm",
       {pixel, pitch | size | is_length | distance | axis | height},
       no_pitch,
       0,
       is_length,
       0.005,
       0.3,
       Sureness::sure},
      {"image.pitch_mm", {pitch}, no_pitch & ~plate, 0, is_length, 0.005, 0.3, likely},
      {"image.pitch_mm", {resolution, is_length}, no_pitch & ~plate, 0, is_length, 0.005, 0.3, likely},
      {"image.width_px", {wide}, no_size | is_length, 0, is_pixels, 1, 65535, Sureness::sure},
      {"image.height_px", {tall | height}, no_size | is_length, 0, is_pixels, 1, 65535, Sureness::sure},
      {"plate_x",
       {wide, plate | is_length | size | volume},
       no_size | pixel | resolution | is_pixels,
       0,
       is_length,
       20,
       500,
       likely},
      {"plate_y",
       {tall | height, plate | is_length | size | volume},
       no_size | pixel | resolution | is_pixels,
       0,
       is_length,
       20,
       500,
       likely},
      {"resin.density_g_per_ml",
       {density | is_density},
       other | moving | exposure,
       0,
       is_density,
       0.8,
       2,
       Sureness::sure},
      {"resin.label", {resin, name | resin}, other | volume | density | exposure, 0, name, 0, 0, likely},
      {"printer.label", {printer, name | printer}, other | plate, 0, name, 0, 0, likely},
      {"title", {job, name}, other | resin | printer, 0, name, 0, 0, likely},
      {"title", {title}, other | resin | printer, 0, name, 0, 0, likely},
      {"image.mirrored", {mirror}, other, 0, mirror, 0, 1, likely},
      {"masks.invert", {invert}, other, 0, mirror, 0, 1, likely},
      {"masks.subpixels", {subpixel}, 0, 0, subpixel, 1, 3, likely},
  };
}

bool meets(const SettingRule& rule, const KeyWords& words) {
  if ((words.all() & rule.not_all) != 0 || (words.own & rule.not_own) != 0) return false;
  if ((words.own & is_other) != 0) return false;
  bool by_own = false;
  for (const Meanings need : rule.needs) {
    if ((words.all() & need) == 0) return false;
    by_own = by_own || (words.own & need) != 0;
  }
  return by_own;
}

// The unit that a bare number is in: the only one that makes it usual, or else the first that does.
const Unit* plausible_unit(const SettingRule& rule, double number, bool& only) {
  const Unit* out = nullptr;
  only = true;
  for (const Unit* unit : units_of(rule.dimension)) {
    const double value = number * unit->factor;
    if (value < rule.usual_from * 0.999 || value > rule.usual_to * 1.001) continue;
    if (out != nullptr) only = false;
    if (out == nullptr) out = unit;
  }
  return out;
}

void less_sure(Candidate& one, Sureness at_best, const std::string& why) {
  one.sureness = std::max(one.sureness, at_best);
  if (!why.empty()) one.why += (one.why.empty() ? "" : "; ") + why;
}

bool fit_measure(const SettingRule& rule, const ReadValue& value, Candidate& out) {
  const double number = *value.number;
  const bool rest = std::string_view(rule.path) == "motion.rest_s";
  const Unit* unit = value.words.unit;
  if (unit != nullptr && unit->dimension != rule.dimension) return false;
  bool only = true;
  if (unit != nullptr) {
    out.score += 3;
    out.why = fmt::format("the unit is stated, {}", unit->shown);
  } else {
    unit = plausible_unit(rule, number, only);
    if (unit == nullptr && number != 0) return false;
    if (unit == nullptr) unit = units_of(rule.dimension).front();
    less_sure(
        out, only ? Sureness::likely : Sureness::unsure,
        fmt::format("no unit is stated; {} makes it {}", unit->shown, only ? "usual" : "usual, and so do others"));
  }
  out.factor = unit->factor;
  out.unit = unit->shown;
  out.number = number * unit->factor;
  if (*out.number < rule.usual_from * 0.999 || *out.number > rule.usual_to * 1.001) {
    if (*out.number == 0 && rest) return true;  // there is none
    if (*out.number <= 0) return false;
    less_sure(out, Sureness::unsure, "an unusual value");
    out.score -= 3;
  } else {
    out.score += 2;
  }
  return true;
}

bool fit_other(const SettingRule& rule, const ReadValue& value, Candidate& out) {
  const Unit* unit = value.words.unit;
  if (rule.dimension == name) {
    const bool words = std::any_of(value.at.text.begin(), value.at.text.end(),
                                   [](char c) { return (c | 32) >= 'a' && (c | 32) <= 'z'; });
    out.why = "a text";
    return words && !value.number && value.at.text.size() <= 80;
  }
  if (rule.dimension == mirror) {
    const std::string& text = value.at.text;
    out.why = "a flag";
    return text == "true" || text == "false" || text == "yes" || text == "no" || text == "1" || text == "0";
  }
  if (!value.number || *value.number != std::floor(*value.number)) return false;
  if (unit != nullptr && unit->dimension != is_pixels) return false;
  out.number = value.number;
  if (*value.number < rule.usual_from || *value.number > rule.usual_to) return false;
  out.score += 2;
  out.why = "a whole number";
  return true;
}

}  // namespace

// Rests by what they stand beside: before the light, or after it and before the lift.
std::string rest_path(const ReadValue& value) {
  const Meanings own = value.words.own, all = value.words.all();
  const bool moves = (own & (lift | retract)) != 0, lights = (own & exposure) != 0;
  if (own & before) return moves && !lights ? "motion.rest_after_s" : "motion.rest_before_s";
  if (own & after) return moves && !lights ? "motion.rest_before_s" : "motion.rest_after_s";
  return all & after ? "motion.rest_after_s" : "motion.rest_before_s";
}

ReadValue understand(TextValue value) {
  ReadValue out{std::move(value), {}, {}};
  out.words = read_key(out.at.parts);
  out.number = leading_number(out.at.text);
  if (out.number && *out.number < 0) out.number.reset();
  const std::size_t digits = out.at.text.find_first_not_of("0123456789.,+-eE \t");
  const Unit* stated = digits != std::string::npos ? unit_at(std::string_view(out.at.text).substr(digits)) : nullptr;
  const Meanings measured = exposure | time | height | thickness | speed | distance;
  const bool layers = (out.words.own & layer) != 0 && (out.words.own & plural) != 0;
  const bool counts = (out.words.own & count) != 0 || (layers && (out.words.own & measured) == 0);
  if (stated == nullptr && !counts) {
    std::string_view behind(out.at.behind);
    behind.remove_prefix(std::min(behind.find_first_not_of(" \t;,|\"'"), behind.size()));
    stated = unit_at(behind);
  }
  if (stated != nullptr) out.words.unit = stated;  // what stands with the number goes before what the key says
  const bool no_count = out.words.unit != nullptr && out.words.unit->dimension != is_pixels &&
                        (stated == out.words.unit || (out.words.own & count) == 0);
  if (out.words.unit != nullptr) out.words.own |= out.words.unit->dimension;
  if (counts && !no_count) out.words.own |= countish;
  return out;
}

const std::vector<SettingRule>& setting_rules() {
  static const std::vector<SettingRule> rules = make_rules();
  return rules;
}

std::optional<Candidate> fit(const SettingRule& rule, const ReadValue& value) {
  if (!meets(rule, value.words)) return std::nullopt;
  Candidate out{rule.path, 0, 0, 1, "", "", rule.at_best, {}};
  for (const Meanings need : rule.needs) out.score += (value.words.own & need) != 0 ? 3 : 2;
  out.score -= value.words.unknown + (value.at.remark ? 4 : 0) + 2 * static_cast<int>(rule.at_best);
  const bool measured = (rule.dimension & (is_length | is_time | is_speed | is_density)) != 0;
  if (measured ? !value.number || !fit_measure(rule, value, out) : !fit_other(rule, value, out)) return std::nullopt;
  if (measured && rule.at_best != Sureness::sure) less_sure(out, rule.at_best, "the key says it in part");
  if (value.words.unknown >= 3) less_sure(out, Sureness::unsure, "the key says something else too");
  if (value.at.remark) less_sure(out, Sureness::unsure, "in a comment");
  return out;
}

}  // namespace hairline::archive
