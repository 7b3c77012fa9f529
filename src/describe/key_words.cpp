#include "key_words.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "../base/ascii.hpp"

namespace hairline::archive {
namespace {

using namespace meaning;

struct Word {
  std::string_view text;
  Meanings means;
};

// General words of the trade. No key of any program's files is among them.
constexpr Word vocabulary[] = {
    {"layer", layer},
    {"slice", layer},
    {"lamina", layer},
    {"height", height},
    {"high", height},
    {"thickness", thickness},
    {"thick", thickness},
    {"exposure", exposure},
    {"expose", exposure},
    {"exposed", exposure},
    {"exposing", exposure},
    {"exp", exposure},
    {"cure", exposure},
    {"curing", exposure},
    {"cured", exposure},
    {"light", exposure},
    {"lit", exposure},
    {"illumination", exposure},
    {"irradiation", exposure},
    {"flash", exposure},
    {"time", time},
    {"duration", time},
    {"period", time},
    {"base", base},
    {"bottom", base},
    {"first", base},
    {"initial", base},
    {"burnin", base},
    {"foundation", base},
    {"adhesion", base},
    {"normal", normal},
    {"regular", normal},
    {"standard", normal},
    {"common", normal},
    {"transition", transition},
    {"fade", transition},
    {"fading", transition},
    {"ramp", transition},
    {"blend", transition},
    {"intermediate", transition},
    {"lift", lift},
    {"lifting", lift},
    {"raise", lift},
    {"raising", lift},
    {"rise", lift},
    {"up", lift},
    {"upward", lift},
    {"upwards", lift},
    {"peel", lift},
    {"ascend", lift},
    {"ascent", lift},
    {"retract", retract},
    {"retraction", retract},
    {"return", retract},
    {"down", retract},
    {"downward", retract},
    {"downwards", retract},
    {"lower", retract},
    {"lowering", retract},
    {"descend", retract},
    {"descent", retract},
    {"drop", retract},
    {"back", retract},
    {"speed", speed},
    {"velocity", speed},
    {"feed", speed},
    {"feedrate", speed},
    {"rate", speed},
    {"distance", distance},
    {"travel", distance},
    {"stroke", distance},
    {"way", distance},
    {"rest", rest},
    {"wait", rest},
    {"waiting", rest},
    {"pause", rest},
    {"delay", rest},
    {"settle", rest},
    {"settling", rest},
    {"dwell", rest},
    {"idle", rest},
    {"before", before},
    {"pre", before},
    {"prior", before},
    {"after", after},
    {"post", after},
    {"pixel", pixel},
    {"px", pixel | is_pixels},
    {"dot", pixel},
    {"voxel", pixel},
    {"pitch", pitch},
    {"spacing", pitch},
    {"size", size},
    {"edge", size},
    {"step", size},
    {"resolution", resolution},
    {"res", resolution},
    {"width", wide},
    {"wide", wide},
    {"x", wide},
    {"columns", wide},
    {"horizontal", wide},
    {"y", tall},
    {"depth", tall},
    {"length", tall},
    {"rows", tall},
    {"vertical", tall},
    {"z", up_z},
    {"count", count},
    {"number", count},
    {"num", count},
    {"amount", count},
    {"quantity", count},
    {"no", count},
    {"nr", count},
    {"resin", resin},
    {"material", resin},
    {"photopolymer", resin},
    {"volume", volume},
    {"density", density},
    {"plate", plate},
    {"platform", plate},
    {"bed", plate},
    {"build", plate},
    {"screen", plate},
    {"display", plate},
    {"panel", plate},
    {"area", plate},
    {"printer", printer},
    {"machine", printer},
    {"device", printer},
    {"name", name},
    {"label", name},
    {"title", title},
    {"job", job},
    {"project", job},
    {"mirror", mirror},
    {"mirrored", mirror},
    {"flip", mirror},
    {"flipped", mirror},
    {"invert", invert},
    {"inverted", invert},
    {"negative", invert},
    {"subpixel", subpixel},
    {"mask", mask},
    {"image", mask},
    {"picture", mask},
    {"frame", mask},
    {"total", total},
    {"all", total},
    {"whole", total},
    {"power", other},
    {"intensity", other},
    {"energy", other},
    {"brightness", other},
    {"pwm", other},
    {"dose", other},
    {"percent", other},
    {"percentage", other},
    {"temperature", other},
    {"temp", other},
    {"cost", other},
    {"price", other},
    {"weight", other},
    {"mass", other},
    {"wavelength", other},
    {"min", other},
    {"minimum", other},
    {"max", other},
    {"maximum", other},
    {"limit", other},
    {"model", other},
    {"object", other},
    {"part", other},
    {"bounding", other},
    {"box", other},
    {"support", other},
    {"preview", other},
    {"thumbnail", other},
    {"icon", other},
    {"version", other},
    {"acceleration", other},
    {"estimated", other},
    {"used", other},
    {"hours", other},
    {"offset", other},
    {"compensation", other},
    {"tolerance", other},
    {"blur", other},
    {"penetration", other},
    {"antialiasing", other},
    {"grey", other},
    {"gray", other},
    {"level", other},
    {"position", other},
    {"margin", other},
    {"date", other},
    {"last", other},
};

struct UnitWords {
  Unit unit;
  std::array<std::string_view, 4> words;  // one of them alone, or several that follow each other
  bool sequence = false;
};

constexpr UnitWords unit_words[] = {
    {{"mm/min", is_speed, 1}, {"mm", "per", "min"}, true},
    {{"mm/min", is_speed, 1}, {"mm", "per", "minute"}, true},
    {{"mm/min", is_speed, 1}, {"mm", "min"}, true},
    {{"mm/s", is_speed, 60}, {"mm", "per", "s"}, true},
    {{"mm/s", is_speed, 60}, {"mm", "per", "sec"}, true},
    {{"mm/s", is_speed, 60}, {"mm", "per", "second"}, true},
    {{"mm/s", is_speed, 60}, {"mm", "s"}, true},
    {{"mm/s", is_speed, 60}, {"mm", "sec"}, true},
    {{"um/s", is_speed, 0.06}, {"um", "per", "s"}, true},
    {{"um/s", is_speed, 0.06}, {"um", "s"}, true},
    {{"cm/min", is_speed, 10}, {"cm", "per", "min"}, true},
    {{"cm/min", is_speed, 10}, {"cm", "min"}, true},
    {{"g/ml", is_density, 1}, {"g", "per", "ml"}, true},
    {{"g/ml", is_density, 1}, {"g", "ml"}, true},
    {{"g/cm3", is_density, 1}, {"g", "per", "cm"}, true},
    {{"g/cm3", is_density, 1}, {"g", "cm"}, true},
    {{"g/cm3", is_density, 1}, {"g", "cc"}, true},
    {{"kg/l", is_density, 1}, {"kg", "per", "l"}, true},
    {{"kg/l", is_density, 1}, {"kg", "l"}, true},
    {{"g/l", is_density, 0.001}, {"g", "l"}, true},
    {{"kg/m3", is_density, 0.001}, {"kg", "per", "m"}, true},
    {{"kg/m3", is_density, 0.001}, {"kg", "m"}, true},
    {{"mW/cm2", is_other}, {"mw", "cm"}, true},
    {{"mJ/cm2", is_other}, {"mj", "cm"}, true},
    {{"mm2", is_other}, {"mm", "2"}, true},
    {{"mm3", is_other}, {"mm", "3"}, true},
    {{"cm3", is_other}, {"cm", "3"}, true},
    {{"mm", is_length, 1}, {"mm", "millimetre", "millimeter", "millimetres"}},
    {{"mm", is_length, 1}, {"millimeters"}},
    {{"um", is_length, 0.001}, {"um", "micron", "microns", "micrometre"}},
    {{"um", is_length, 0.001}, {"micrometer", "micrometres", "micrometers", "mu"}},
    {{"nm", is_length, 0.000001}, {"nm", "nanometre", "nanometres", "nanometers"}},
    {{"cm", is_length, 10}, {"cm", "centimetre", "centimetres", "centimeters"}},
    {{"s", is_time, 1}, {"s", "sec", "secs", "second"}},
    {{"s", is_time, 1}, {"seconds"}},
    {{"ms", is_time, 0.001}, {"ms", "msec", "msecs", "millis"}},
    {{"ms", is_time, 0.001}, {"millisecond", "milliseconds"}},
    {{"us", is_time, 0.000001}, {"us", "usec", "microsecond", "microseconds"}},
    {{"min", is_time, 60}, {"minute", "minutes", "mins"}},
    {{"h", is_other}, {"hour", "hours"}},
    {{"px", is_pixels}, {"px", "pixel", "pixels", "dots"}},
    {{"ml", is_other}, {"ml", "millilitre", "millilitres", "milliliters"}},
    {{"g", is_other}, {"gram", "grams", "gramme", "grammes"}},
    {{"dpi", is_other}, {"dpi", "ppi"}},
};

Meanings of_word(std::string_view word) {
  for (const Word& one : vocabulary)
    if (one.text == word) return one.means;
  if (word.size() > 2 && word.back() == 's')
    if (const Meanings single = of_word(word.substr(0, word.size() - 1)))
      return (single & (layer | mask)) != 0 ? single | plural : single;
  return 0;
}

bool is_unit_word(std::string_view word) {
  for (const UnitWords& one : unit_words)
    if (!one.sequence && std::find(one.words.begin(), one.words.end(), word) != one.words.end()) return true;
  return false;
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

bool is_upper(char c) {
  return c >= 'A' && c <= 'Z';
}
bool is_lower(char c) {
  return c >= 'a' && c <= 'z';
}

// The unit that a sequence of words begins with at `at`; `used` is how many words it takes.
const Unit* unit_in(const std::vector<std::string>& words, std::size_t at, std::size_t& used) {
  for (const UnitWords& one : unit_words) {
    if (!one.sequence) {
      if (std::find(one.words.begin(), one.words.end(), words[at]) == one.words.end()) continue;
      used = 1;
      return &one.unit;
    }
    std::size_t length = 0;
    while (length < one.words.size() && !one.words[length].empty()) ++length;
    if (at + length > words.size()) continue;
    if (!std::equal(one.words.begin(), one.words.begin() + static_cast<std::ptrdiff_t>(length),
                    words.begin() + static_cast<std::ptrdiff_t>(at)))
      continue;
    used = length;
    return &one.unit;
  }
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
  for (const std::string_view one : {"a",  "an", "the", "at",  "for",  "and",   "by",  "of",   "in", "on",  "with",
                                     "to", "is", "are", "has", "each", "every", "per", "this", "be", "will"})
    if (word == one) return true;
  return false;
}

// A last part that says nothing and takes nothing away: the one before it is the key.
bool is_neutral(const std::string& part) {
  for (const std::string& word : words_of(part))
    if (word != "value" && word != "val" && word != "v" && word != "setting" && word != "default" && word != "text" &&
        !is_filler(word))
      return false;
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
  while (!plain.empty() && (plain.front() == ' ' || plain.front() == '\t' || plain.front() == '[' ||
                            plain.front() == '(' || plain.front() == '"'))
    plain.erase(0, 1);
  if (plain.starts_with('%')) {
    static constexpr Unit percent{"%", is_other};
    return &percent;
  }
  const auto letter = [](char c) { return is_lower(c) || is_upper(c); };
  if (plain.empty() || !letter(plain.front())) return nullptr;
  // A word behind the unit is no part of it: at most three words that belong together by signs.
  std::size_t end = 0;
  while (end < plain.size() && plain[end] != ' ' && plain[end] != ',' && plain[end] != ';' && plain[end] != ')') ++end;
  std::string_view rest(plain);
  rest.remove_prefix(end);
  if (rest.starts_with(" per ") || rest.starts_with(" / ")) {
    end += rest.starts_with(" per ") ? 5 : 3;
    while (end < plain.size() && letter(plain[end])) ++end;
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
    for (const UnitWords& one : unit_words)
      if (one.unit.dimension == dimension && shown == std::string_view(one.unit.shown)) {
        out.push_back(&one.unit);
        break;
      }
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
    if (!is_upper(c) && !is_lower(c) && !is_digit(c)) {
      finish();
      if (c == '/' && !raw.empty()) raw.push_back("per");
      continue;
    }
    if (i > 0 && !word.empty()) {
      const char last = text[i - 1];
      const bool next_lower = i + 1 < text.size() && is_lower(text[i + 1]);
      if (is_digit(last) != is_digit(c) || (is_lower(last) && is_upper(c)) ||
          (is_upper(last) && is_upper(c) && next_lower))
        finish();
    }
    word += is_upper(c) ? static_cast<char>(c + 32) : c;
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
