#include "setting_rules.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../archive/foreign.hpp"
#include "../base/ascii.hpp"

namespace hairline::archive {
namespace {

using namespace meaning;

constexpr Meanings moving = lift | retract | speed | is_speed;
constexpr Meanings early = base | transition;
constexpr Meanings axis = wide | tall | up_z;

constexpr Usual a_height{is_length, 0.005, 0.3}, a_time{is_time, 0.1, 120}, a_base{is_time, 1, 600},
    a_rest{is_time, 0.05, 60}, a_lift{is_length, 0.5, 100}, a_speed{is_speed, 10, 1000}, a_plate{is_length, 20, 500},
    a_density{is_density, 0.8, 2}, some_layers{countish, 0, 100}, more_layers{countish, 0, 200},
    all_layers{countish, 1, 100000}, pixels{is_pixels, 1, 65535}, a_text{name, 0, 0}, a_flag{mirror, 0, 1},
    of_a_pixel{subpixel, 1, 3};

std::vector<SettingRule> make_rules() {
  using enum Sureness;
  const Meanings no_height =
      other | early | moving | rest | exposure | time | total | plate | pixel | countish | wide | tall;
  const Meanings no_time =
      other | countish | moving | rest | total | axis | height | thickness | pixel | density | volume;
  const Meanings no_pitch = other | layer | up_z | exposure | time | rest | moving | countish | plate;
  const Meanings no_size = other | layer | exposure | time | rest | moving | up_z | countish | thickness;
  const Meanings no_move = other | base | transition | rest | time | is_time | countish;
  const Meanings beside = rest | before | after, tall_side = tall | height, timed = time | is_time;
  const Meanings no_count = other | moving | rest, no_base_count = timed | height | thickness | is_length;
  const Meanings a_side = plate | is_length | size | volume, no_side = no_size | pixel | resolution | is_pixels;
  const Meanings any_height = height | thickness | is_length | size | pitch | distance;
  const Meanings any_lift = distance | height | is_length | size | up_z | lift;
  const Meanings any_pitch = pitch | size | is_length | distance | axis | height;
  const Meanings no_rest = other | base | transition | speed | is_speed | distance | is_length | countish | total;
  return {
      {"layers.height_mm", {layer | up_z, any_height}, no_height | resolution, 0, a_height, sure},
      {"layers.height_mm", {layer | up_z, resolution}, no_height, 0, a_height, likely},
      {"layers.height_mm", {thickness}, no_height, 0, a_height, likely},
      {"exposure.normal_s", {exposure, exposure | normal | timed}, no_time | early, beside, a_time, sure},
      {"exposure.normal_s", {layer | normal, timed}, no_time | early | plural, beside, a_time, unsure},
      {"exposure.base_s", {base, exposure, base | exposure | timed}, no_time | transition, beside, a_base, sure},
      {"exposure.base_s", {base, timed}, no_time | transition, beside, a_base, likely},
      {"exposure.base_layers", {base, layer | countish}, no_count | transition, no_base_count, some_layers, sure},
      {"exposure.transition_layers", {transition, layer | countish}, no_count, timed, more_layers, sure},
      {"layers.count", {layer | mask, countish}, no_count | early, time, all_layers, likely},
      {"layers.count", {count}, no_count | early | exposure | pixel, time, all_layers, unsure},
      {"motion.lift_mm", {lift, any_lift}, no_move | speed | is_speed | retract, 0, a_lift, sure},
      {"motion.lift_mm_per_min", {lift, speed | is_speed}, no_move | distance, retract, a_speed, sure},
      {"motion.retract_mm_per_min", {retract, speed | is_speed}, no_move | distance, lift, a_speed, sure},
      {"motion.rest_s", {rest}, no_rest, 0, a_rest, sure},
      {"image.pitch_mm", {pixel, any_pitch}, no_pitch, 0, a_height, sure},
      {"image.pitch_mm", {pitch}, no_pitch & ~plate, 0, a_height, likely},
      {"image.pitch_mm", {resolution, is_length}, no_pitch & ~plate, 0, a_height, likely},
      {"image.width_px", {wide}, no_size | is_length, 0, pixels, sure},
      {"image.height_px", {tall_side}, no_size | is_length, 0, pixels, sure},
      {"plate_x", {wide, a_side}, no_side, 0, a_plate, likely},
      {"plate_y", {tall_side, a_side}, no_side, 0, a_plate, likely},
      {"resin.density_g_per_ml", {density | is_density}, other | moving | exposure, 0, a_density, sure},
      {"resin.label", {resin, name | resin}, other | volume | density | exposure, 0, a_text, likely},
      {"printer.label", {printer, name | printer}, other | plate, 0, a_text, likely},
      {"title", {job, name}, other | resin | printer, 0, a_text, likely},
      {"title", {title}, other | resin | printer, 0, a_text, likely},
      {"image.mirrored", {mirror}, other, 0, a_flag, likely},
      {"masks.invert", {invert}, other, 0, a_flag, likely},
      {"masks.subpixels", {subpixel}, 0, 0, of_a_pixel, likely},
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
  for (const Unit* unit : units_of(rule.usual.dimension)) {
    const double value = number * unit->factor;
    if (value < rule.usual.from * 0.999 || value > rule.usual.to * 1.001) continue;
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
  if (unit != nullptr && unit->dimension != rule.usual.dimension) return false;
  bool only = true;
  if (unit != nullptr) {
    out.score += 3;
    out.why = fmt::format("the unit is stated, {}", unit->shown);
  } else {
    unit = plausible_unit(rule, number, only);
    if (unit == nullptr && number != 0) return false;
    if (unit == nullptr) unit = units_of(rule.usual.dimension).front();
    less_sure(
        out, only ? Sureness::likely : Sureness::unsure,
        fmt::format("no unit is stated; {} makes it {}", unit->shown, only ? "usual" : "usual, and so do others"));
  }
  out.factor = unit->factor;
  out.unit = unit->shown;
  out.number = number * unit->factor;
  if (*out.number < rule.usual.from * 0.999 || *out.number > rule.usual.to * 1.001) {
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
  if (rule.usual.dimension == name) {
    const bool words = std::any_of(value.at.text.begin(), value.at.text.end(), is_letter);
    out.why = "a text";
    return words && !value.number && value.at.text.size() <= 80;
  }
  if (rule.usual.dimension == mirror) {
    out.why = "a flag";
    return flag_of(value.at.text).has_value();
  }
  if (!value.number || *value.number != std::floor(*value.number)) return false;
  if (unit != nullptr && unit->dimension != is_pixels) return false;
  out.number = value.number;
  if (*value.number < rule.usual.from || *value.number > rule.usual.to) return false;
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
  const bool measured = (rule.usual.dimension & (is_length | is_time | is_speed | is_density)) != 0;
  if (measured ? !value.number || !fit_measure(rule, value, out) : !fit_other(rule, value, out)) return std::nullopt;
  if (measured && rule.at_best != Sureness::sure) less_sure(out, rule.at_best, "the key says it in part");
  if (value.words.unknown >= 3) less_sure(out, Sureness::unsure, "the key says something else too");
  if (value.at.remark) less_sure(out, Sureness::unsure, "in a comment");
  return out;
}

}  // namespace hairline::archive
