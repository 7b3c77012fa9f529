#include "key_words.hpp"

#include <algorithm>
#include <span>
#include <unordered_map>
#include <utility>
#include <vector>

#include "../base/ascii.hpp"

namespace hairline::archive {
namespace {

using namespace meaning;

// Names with a comma and a blank between them; whether one of them is what `fits` looks for.
bool any_name(std::string_view names, auto fits) {
  while (!names.empty()) {
    const std::size_t end = std::min(names.find(','), names.size());
    if (fits(names.substr(0, end))) return true;
    names.remove_prefix(std::min(end + 2, names.size()));
  }
  return false;
}

bool is_among(std::string_view names, std::string_view name) {
  return any_name(names, [&](std::string_view one) { return one == name; });
}

struct Words {
  Meanings means;
  std::string_view names;
};

// General words of the trade. No key of any program's files is among them.
constexpr Words vocabulary[] = {
    {layer, "layer, slice, lamina"},
    {height, "height, high"},
    {thickness, "thickness, thick"},
    {exposure,
     "exposure, expose, exposed, exposing, exp, cure, curing, cured, light, lit, illumination, irradiation, flash"},
    {time, "time, duration, period"},
    {base, "base, bottom, first, initial, burnin, foundation, adhesion"},
    {normal, "normal, regular, standard, common"},
    {transition, "transition, fade, fading, ramp, blend, intermediate"},
    {lift, "lift, lifting, raise, raising, rise, up, upward, upwards, peel, ascend, ascent"},
    {retract, "retract, retraction, return, down, downward, downwards, lower, lowering, descend, descent, drop, back"},
    {speed, "speed, velocity, feed, feedrate, rate"},
    {distance, "distance, travel, stroke, way"},
    {rest, "rest, wait, waiting, pause, delay, settle, settling, dwell, idle"},
    {before, "before, pre, prior"},
    {after, "after, post"},
    {pixel, "pixel, dot, voxel"},
    {pixel | is_pixels, "px"},
    {pitch, "pitch, spacing"},
    {size, "size, edge, step"},
    {resolution, "resolution, res"},
    {wide, "width, wide, x, columns, horizontal"},
    {tall, "y, depth, length, rows, vertical"},
    {up_z, "z"},
    {count, "count, number, num, amount, quantity, no, nr"},
    {resin, "resin, material, photopolymer"},
    {volume, "volume"},
    {density, "density"},
    {plate, "plate, platform, bed, build, screen, display, panel, area"},
    {printer, "printer, machine, device"},
    {name, "name, label"},
    {title, "title"},
    {job, "job, project"},
    {mirror, "mirror, mirrored, flip, flipped"},
    {invert, "invert, inverted, negative"},
    {subpixel, "subpixel"},
    {mask, "mask, image, picture, frame"},
    {total, "total, all, whole"},
    {other,
     "power, intensity, energy, brightness, pwm, dose, percent, percentage, temperature, temp, cost, price, "
     "weight, mass, wavelength, min, minimum, max, maximum, limit, model, object, part, bounding, box, support, "
     "preview, thumbnail, icon, version, acceleration, estimated, used, hours, offset, compensation, tolerance, "
     "blur, penetration, antialiasing, grey, gray, level, position, margin, date, last"},
};

struct UnitNames {
  Unit unit;
  std::string_view names;  // of one word or of several that follow each other
};

constexpr UnitNames unit_names[] = {
    {{"mm/min", is_speed, 1}, "mm per min, mm per minute, mm min"},
    {{"mm/s", is_speed, 60}, "mm per s, mm per sec, mm per second, mm s, mm sec"},
    {{"um/s", is_speed, 0.06}, "um per s, um s"},
    {{"cm/min", is_speed, 10}, "cm per min, cm min"},
    {{"g/ml", is_density, 1}, "g per ml, g ml"},
    {{"g/cm3", is_density, 1}, "g per cm, g cm, g cc"},
    {{"kg/l", is_density, 1}, "kg per l, kg l"},
    {{"g/l", is_density, 0.001}, "g l"},
    {{"kg/m3", is_density, 0.001}, "kg per m, kg m"},
    {{"mW/cm2", is_other}, "mw cm"},
    {{"mJ/cm2", is_other}, "mj cm"},
    {{"mm2", is_other}, "mm 2"},
    {{"mm3", is_other}, "mm 3"},
    {{"cm3", is_other}, "cm 3"},
    {{"mm", is_length, 1}, "mm, millimetre, millimeter, millimetres, millimeters"},
    {{"um", is_length, 0.001}, "um, micron, microns, micrometre, micrometer, micrometres, micrometers, mu"},
    {{"nm", is_length, 0.000001}, "nm, nanometre, nanometres, nanometers"},
    {{"cm", is_length, 10}, "cm, centimetre, centimetres, centimeters"},
    {{"s", is_time, 1}, "s, sec, secs, second, seconds"},
    {{"ms", is_time, 0.001}, "ms, msec, msecs, millis, millisecond, milliseconds"},
    {{"us", is_time, 0.000001}, "us, usec, microsecond, microseconds"},
    {{"min", is_time, 60}, "minute, minutes, mins"},
    {{"h", is_other}, "hour, hours"},
    {{"px", is_pixels}, "px, pixel, pixels, dots"},
    {{"ml", is_other}, "ml, millilitre, millilitres, milliliters"},
    {{"g", is_other}, "gram, grams, gramme, grammes"},
    {{"dpi", is_other}, "dpi, ppi"},
};

// The names of a table one by one, each with its line.
template <class Line>
std::vector<std::pair<std::string_view, const Line*>> names_in(std::span<const Line> table) {
  std::vector<std::pair<std::string_view, const Line*>> out;
  for (const Line& line : table)
    any_name(line.names, [&](std::string_view name) {
      out.emplace_back(name, &line);
      return false;
    });
  return out;
}

const auto& all_unit_names() {
  static const auto names = names_in(std::span<const UnitNames>(unit_names));
  return names;
}

// A file may hold thousands of keys, and of each many parts are looked up.
Meanings of_word(std::string_view word) {
  static const auto names = names_in(std::span<const Words>(vocabulary));
  static const std::unordered_map<std::string_view, const Words*> known(names.begin(), names.end());
  if (const auto one = known.find(word); one != known.end()) return one->second->means;
  if (word.size() > 2 && word.back() == 's')
    if (const Meanings single = of_word(word.substr(0, word.size() - 1)))
      return (single & (layer | mask)) != 0 ? single | plural : single;
  return 0;
}

bool is_unit_word(std::string_view word) {
  return std::any_of(all_unit_names().begin(), all_unit_names().end(),
                     [&](const auto& one) { return one.first == word; });
}

// "layerheight" as its words, where it consists of such words only; the longest first one that works.
bool taken_apart(std::string_view word, std::vector<std::string>& out) {
  if (word.empty()) return true;
  for (std::size_t length = word.size(); length > 0; --length) {
    const std::string_view first = word.substr(0, length);
    const bool known = length == 1 ? first == "x" || first == "y" : of_word(first) != 0 || is_unit_word(first);
    if (!known) continue;
    out.emplace_back(first);
    if (taken_apart(word.substr(length), out)) return true;
    out.pop_back();
  }
  return false;
}

// Signs for micro (U+00B5, U+03BC, and the first in Latin-1), square and cube as letters.
std::string plain_signs(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto at = [&](std::size_t k) { return k < text.size() ? static_cast<unsigned char>(text[k]) : 0u; };
    if ((at(i) == 0xC2 && at(i + 1) == 0xB5) || (at(i) == 0xCE && at(i + 1) == 0xBC)) {
      out += 'u';
      ++i;
    } else if (at(i) == 0xC2 && (at(i + 1) == 0xB2 || at(i + 1) == 0xB3)) {
      out += at(++i) == 0xB2 ? '2' : '3';
    } else {
      out += at(i) == 0xB5 ? 'u' : text[i];
    }
  }
  return out;
}

// How many words from `at` on are those of `name`; 0: they are others.
std::size_t words_taken(const std::vector<std::string>& words, std::size_t at, std::string_view name) {
  std::size_t i = at;
  while (!name.empty()) {
    const std::size_t end = std::min(name.find(' '), name.size());
    if (i == words.size() || words[i++] != name.substr(0, end)) return 0;
    name.remove_prefix(std::min(end + 1, name.size()));
  }
  return i - at;
}

// The unit that a sequence of words begins with at `at`; `used` is how many words it takes.
const Unit* unit_in(const std::vector<std::string>& words, std::size_t at, std::size_t& used) {
  for (const auto& [name, line] : all_unit_names())
    if ((used = words_taken(words, at, name)) > 0) return &line->unit;
  return nullptr;
}

// A unit in a key stands at its end or its beginning; a word of several letters that is nothing else may stand
// anywhere. "pixel" is a unit only in a value.
const Unit* unit_of_key(const std::vector<std::string>& words, std::size_t& at, std::size_t& used) {
  for (at = 0; at < words.size(); ++at)  // those of several words first: "mm s" is no "s"
    if (const Unit* unit = unit_in(words, at, used); unit != nullptr && used > 1) return unit;
  for (at = words.size(); at-- > 0;) {
    const Unit* unit = unit_in(words, at, used);
    if (unit == nullptr || unit->dimension == is_pixels) continue;
    const bool edge = at == 0 || at + used == words.size();
    if (edge || (words[at].size() > 1 && of_word(words[at]) == 0)) return unit;
  }
  return nullptr;
}

constexpr Meanings exclusive[] = {
    lift | retract, base | normal | transition, before | after, wide | tall | up_z, plate | pixel, rest | exposure};

bool is_filler(std::string_view word) {
  return is_among("a, an, the, at, for, and, by, of, in, on, with, to, is, are, has, each, every, per, this, be, will",
                  word);
}

// A last part that says nothing and takes nothing away: the one before it is the key.
bool is_neutral(const std::string& part) {
  for (const std::string& word : words_of(part))
    if (!is_among("value, val, v, setting, default, text", word) && !is_filler(word)) return false;
  return true;
}

struct Part {
  Meanings means = 0;
  const Unit* unit = nullptr;
  int unknown = 0;
};

Part read_part(const std::string& text) {
  const std::vector<std::string> words = words_of(text);
  Part out;
  std::size_t unit_at = 0, used = 0;
  out.unit = unit_of_key(words, unit_at, used);
  if (out.unit == nullptr) used = 0, unit_at = words.size();
  for (std::size_t i = 0; i < words.size(); ++i) {
    if (i >= unit_at && i < unit_at + used) continue;
    if (const Meanings means = of_word(words[i]))
      out.means |= means;
    else if (!is_filler(words[i]))
      ++out.unknown;
  }
  return out;
}

}  // namespace

const Unit* unit_at(std::string_view text) {
  std::string plain = plain_signs(text.substr(0, 40));
  plain.erase(0, plain.find_first_not_of(" \t[(\""));
  if (plain.starts_with('%')) {
    static constexpr Unit percent{"%", is_other};
    return &percent;
  }
  if (plain.empty() || !is_letter(plain.front())) return nullptr;
  // A word behind the unit is no part of it: at most three words that belong together by signs.
  std::size_t end = std::min(plain.find_first_of(" ,;)"), plain.size());
  std::string_view rest(plain);
  rest.remove_prefix(end);
  if (rest.starts_with(" per ") || rest.starts_with(" / ")) {
    end += rest.starts_with(" per ") ? 5 : 3;
    while (end < plain.size() && is_letter(plain[end])) ++end;
  }
  std::string word = plain.substr(0, end);
  if (word == "min" || word == "min.") {
    static constexpr Unit minutes{"min", is_time, 60};
    return &minutes;
  }
  if (word == "g" || word == "l" || word == "m" || word == "K" || word == "C") {
    static constexpr Unit unknown{"", is_other};
    return &unknown;
  }
  const std::vector<std::string> words = words_of(word);
  std::size_t used = 0;
  return words.empty() ? nullptr : unit_in(words, 0, used);
}

std::vector<const Unit*> units_of(Meanings dimension) {
  std::vector<const Unit*> out;
  for (const char* shown : {"mm", "um", "s", "ms", "mm/min", "mm/s", "g/ml", "kg/m3"})
    for (const UnitNames& one : unit_names)
      if (one.unit.dimension == dimension && shown == std::string_view(one.unit.shown)) out.push_back(&one.unit);
  return out;
}

std::vector<std::string> words_of(std::string_view key) {
  const std::string text = plain_signs(key);
  std::vector<std::string> raw;
  std::string word;
  const auto finish = [&] {
    if (!word.empty()) raw.push_back(std::exchange(word, {}));
  };
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (!is_letter(c) && !is_digit(c)) {
      finish();
      if (c == '/' && !raw.empty()) raw.push_back("per");
      continue;
    }
    if (i > 0 && !word.empty()) {
      const char last = text[i - 1];
      const bool next_lower = i + 1 < text.size() && is_small(text[i + 1]);
      if (is_digit(last) != is_digit(c) || (is_small(last) && is_capital(c)) ||
          (is_capital(last) && is_capital(c) && next_lower))
        finish();
    }
    word += is_capital(c) ? static_cast<char>(c + 32) : c;
  }
  finish();
  std::vector<std::string> out;
  for (const std::string& one : raw) {
    std::vector<std::string> parts;
    if (of_word(one) == 0 && !is_unit_word(one) && one.size() <= 40 && taken_apart(one, parts))
      out.insert(out.end(), parts.begin(), parts.end());
    else
      out.push_back(one);
  }
  return out;
}

KeyWords read_key(const std::vector<std::string>& parts) {
  KeyWords out;
  bool own_done = false;
  for (std::size_t i = parts.size(); i-- > 0;) {
    const Part part = read_part(parts[i]);
    Meanings means = part.means;
    for (const Meanings group : exclusive)
      if (out.all() & group) means &= ~group;
    // The unit of another number in the same line is not this one's.
    const bool line = own_done && std::any_of(parts[i].begin(), parts[i].end(), is_digit);
    if (out.unit == nullptr && !line) out.unit = part.unit;
    if (own_done) {
      out.above |= means;
      continue;
    }
    out.own |= means;
    if (part.means != 0 || part.unit != nullptr)
      out.unknown += part.unknown;
    else if (i + 1 == parts.size() && !is_neutral(parts[i]))
      out.unknown += 3 * part.unknown;
    own_done = part.means != 0;
  }
  return out;
}

}  // namespace hairline::archive
