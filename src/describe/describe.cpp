// A draft of an archive description: texts to values, values to settings, settings held against the masks.
#include "hairline/describe.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "../archive/foreign.hpp"
#include "../archive/image_stack.hpp"
#include "../base/numbers.hpp"
#include "setting_rules.hpp"

namespace hairline {
namespace {

using namespace archive;
using namespace archive::meaning;
using From = SettingSource::From;

constexpr std::size_t most_texts = 50;
constexpr std::uint64_t most_text_bytes = 8u << 20;
constexpr int most_misses = 100;  // keys that lead elsewhere, before the search ends

struct Texts {
  std::map<std::string, std::string> by_name;
  std::vector<ReadValue> values;
};

Texts read_texts(const Store& store, const std::vector<Entry>& entries, const std::string& file, const Limits& limits,
                 std::vector<std::string>& notes) {
  Texts out;
  std::uint64_t bytes = 0;
  std::vector<std::byte> head;
  std::size_t passed = 0;
  std::string first;
  for (const Entry& entry : entries) {
    if (entry.folder || entry.bytes == 0 || !stays_inside(entry.name)) continue;
    if (!store.head(entry, picture_head_bytes, head) || picture_of(head)) continue;
    if (entry.bytes > limits.manifest_bytes || bytes + entry.bytes > most_text_bytes ||
        out.by_name.size() >= most_texts) {
      if (passed++ == 0) first = fmt::format("\"{}\" ({} bytes)", entry.name, entry.bytes);
      continue;
    }
    auto text = read_small(store, entry, file, limits);
    if (!text) continue;
    bytes += entry.bytes;
    for (TextValue& value : values_in(*text, entry.name)) out.values.push_back(understand(std::move(value)));
    out.by_name.emplace(entry.name, std::move(*text));
  }
  if (passed > 0)
    notes.push_back(fmt::format("{}{} not looked at: too large, or too many.", first,
                                passed == 1 ? " was" : fmt::format(" and {} more files were", passed - 1)));
  return out;
}

std::string number_of(double value) {
  return fmt::format("{:.12g}", value);
}

// ---- candidates ----

// What a value is where it is the size or the number of the masks; empty: neither.
bool agrees_with_masks(Candidate& one, const ReadValue& value, const DraftMasks& masks) {
  const auto is = [&](std::uint64_t wanted) { return value.number && *value.number == static_cast<double>(wanted); };
  if (one.path == "layers.count") {
    if (!is(masks.count)) return false;
    one.why = "so many masks are there";
  } else {
    const bool across = one.path == "image.width_px";
    const std::uint32_t side = across ? masks.size.width_px : masks.size.height_px;
    if (!is(side) && !(across && is(std::uint64_t{3} * side))) return false;
    one.why = is(side) ? "the masks are of this size" : "three times the width of the masks";
  }
  one.sureness = Sureness::sure;
  one.score += 4;
  return true;
}

bool equals_a_side(const ReadValue& value, const Size& size) {
  if (!value.number || value.words.unit != nullptr || *value.number != std::floor(*value.number)) return false;
  const bool across = (value.words.all() & wide) != 0, along = (value.words.all() & (tall | height)) != 0;
  return (across && *value.number == size.width_px) || (along && *value.number == size.height_px);
}

// Paths that stand for several settings, as the settings they are.
std::vector<std::string> paths_for(const std::string& path, const ReadValue& value) {
  const Meanings own = value.words.own;
  if (path == "motion.rest_s") return {rest_path(value)};
  if (path != "image.pitch_mm") return {path};
  const bool across = (own & wide) != 0, along = (own & (tall | height)) != 0;
  if (across != along) return {across ? "image.pitch_x_mm" : "image.pitch_y_mm"};
  return {"image.pitch_x_mm", "image.pitch_y_mm"};
}

std::vector<Candidate> candidates_in(const std::vector<ReadValue>& values, const DraftMasks& masks) {
  std::vector<Candidate> out;
  for (std::size_t i = 0; i < values.size(); ++i) {
    for (const SettingRule& rule : setting_rules()) {
      auto one = fit(rule, values[i]);
      if (!one) continue;
      one->value = i;
      const bool of_masks =
          one->path == "layers.count" || one->path == "image.width_px" || one->path == "image.height_px";
      if (of_masks && !agrees_with_masks(*one, values[i], masks)) continue;
      if (!of_masks && rule.usual.dimension == is_length && equals_a_side(values[i], masks.size)) continue;
      for (const std::string& path : paths_for(one->path, values[i])) {
        out.push_back(*one);
        out.back().path = path;
      }
    }
  }
  std::stable_sort(out.begin(), out.end(), [](const Candidate& a, const Candidate& b) { return a.score > b.score; });
  return out;
}

// ---- choice ----

bool may_share(const std::string& a, const std::string& b) {
  return a.starts_with("image.pitch_") && b.starts_with("image.pitch_");
}

// The key leads to this very value when the archive is read.
bool reads_back(const ReadValue& value, const Texts& texts) {
  const auto found = find_value(texts.by_name.at(value.at.entry), value.at.entry, value.at.syntax, value.at.key);
  if (!found || !*found) return false;
  return value.number ? leading_number(**found) == value.number : **found == value.at.text;
}

using Chosen = std::map<std::string, Candidate>;

// Whether two say the same, so that it does not matter which is taken.
bool agree(const Candidate& a, const Candidate& b, const std::vector<ReadValue>& values) {
  if (a.number && b.number) return std::abs(*a.number - *b.number) <= 1e-9 * std::abs(*a.number);
  return values[a.value].at.text == values[b.value].at.text;
}

std::string shown(const ReadValue& value) {
  return fmt::format("{} {} = {}", value.at.entry, value.at.key, value.at.text);
}

Chosen choose(const std::vector<Candidate>& candidates, const Texts& texts) {
  Chosen out;
  int misses = 0;
  std::map<std::size_t, std::string> taken;
  for (const Candidate& one : candidates) {
    const auto user = taken.find(one.value);
    if (user != taken.end() && !may_share(user->second, one.path)) continue;
    const auto rival = out.find(one.path);
    if (rival == out.end()) {
      if (misses >= most_misses) continue;
      if (!reads_back(texts.values[one.value], texts)) {
        ++misses;
        continue;
      }
      out.emplace(one.path, one);
      taken.emplace(one.value, one.path);
    } else if (rival->second.value != one.value && rival->second.score - one.score < 3 &&
               !agree(rival->second, one, texts.values)) {
      rival->second.sureness = Sureness::unsure;
      if (rival->second.why.find("or is it") == std::string::npos)
        rival->second.why += fmt::format("; or is it {}?", shown(texts.values[one.value]));
    }
  }
  return out;
}

// ---- what settings say of each other ----

void doubt(Chosen& chosen, const char* path, const std::string& why) {
  const auto at = chosen.find(path);
  if (at == chosen.end()) return;
  at->second.sureness = Sureness::unsure;
  at->second.why += "; " + why;
}

std::optional<double> number_in(const Chosen& chosen, const char* path) {
  const auto at = chosen.find(path);
  return at == chosen.end() ? std::nullopt : at->second.number;
}

void compare(Chosen& chosen) {
  const auto base = number_in(chosen, "exposure.base_s"), normal = number_in(chosen, "exposure.normal_s");
  if (base && normal && *base < *normal) {
    doubt(chosen, "exposure.base_s", "the base gets less than the other layers");
    doubt(chosen, "exposure.normal_s", "the base gets less than the other layers");
  }
}

struct Side {
  const char *plate, *pitch, *pixels;
};
constexpr Side sides[] = {{"plate_x", "image.pitch_x_mm", "image.width_px"},
                          {"plate_y", "image.pitch_y_mm", "image.height_px"}};

DraftSetting constant(const std::string& path, double value, Sureness sureness, std::string why) {
  DraftSetting out;
  out.source.path = path;
  out.source.value = out.value = number_of(value);
  out.sureness = sureness;
  out.why = std::move(why);
  return out;
}

// Grey values in a row and in a column of all.
Size pixels_of(const DraftMasks& masks) {
  return {masks.size.width_px * masks.subpixels.value_or(1), masks.size.height_px};
}

// Pitches that follow from the size of the plate and the pixels of the masks; and what plate and pitch, both stated,
// say of each other.
std::vector<DraftSetting> pitch_from_plate(Chosen& chosen, const DraftMasks& masks) {
  std::vector<DraftSetting> out;
  const Size size = pixels_of(masks);
  std::vector<double> pitches;
  for (const Side& side : sides) {
    const auto plate = number_in(chosen, side.plate);
    const double pixels = side.plate == sides[0].plate ? size.width_px : size.height_px;
    if (!plate) continue;
    const double pitch = *plate / pixels;
    if (const auto stated = number_in(chosen, side.pitch)) {
      Candidate& one = chosen.at(side.pitch);
      const double ratio = *stated / pitch;
      const std::string said = fmt::format("{} mm of plate on {} pixels", number_of(*plate), pixels);
      if (std::abs(ratio - 1) <= 0.02)
        one.why += "; " + said;
      else if (side.plate == sides[0].plate && masks.subpixels == 3 && std::abs(ratio - 3) <= 0.06)
        one.factor /= 3, *one.number /= 3, one.why += "; a third, for it is that of a whole colour pixel: " + said;
      else
        doubt(chosen, side.pitch, fmt::format("{} make {:.4g} mm", said, pitch));
      continue;
    }
    if (pitch < 0.005 || pitch > 0.3) continue;
    pitches.push_back(pitch);
    out.push_back(constant(side.pitch, twelve_digits(std::round(pitch * 1e6) / 1e6), Sureness::likely,
                           fmt::format("{} mm of plate on {} pixels", number_of(*plate), pixels)));
  }
  if (pitches.size() == 2 && std::abs(pitches[0] - pitches[1]) > 0.02 * pitches[0])
    for (DraftSetting& one : out) one.sureness = Sureness::unsure, one.why += "; the two sides differ";
  return out;
}

// ---- the draft ----

DraftSetting setting_from(const Candidate& one, const ReadValue& value) {
  DraftSetting out;
  out.source = {one.path, From::entry, "", value.at.entry, value.at.syntax, value.at.key, one.factor};
  out.found = value.at.text;
  out.value = one.number ? number_of(*one.number) : value.at.text;
  out.unit = one.unit;
  out.sureness = one.sureness;
  out.why = one.why;
  return out;
}

DraftSetting asked(const SettingField& field) {
  DraftSetting out;
  out.source.path = field.path;
  out.source.from = From::ask;
  out.source.value = *field.unit ? fmt::format("{}, {}", field.words, field.unit) : field.words;
  out.sureness = Sureness::unsure;
  out.why = "nothing in the archive says it";
  return out;
}

// Flags that contradict what the masks look like are not believed.
void settle_flags(Chosen& chosen, const Texts& texts, Draft& draft) {
  if (const auto at = chosen.find("masks.invert"); at != chosen.end()) {
    const bool says = flag_of(texts.values[at->second.value].at.text).value_or(false);
    if (says != draft.masks.inverted) {
      draft.notes.push_back(fmt::format("{}, but the masks look {}; it was not used.",
                                        shown(texts.values[at->second.value]), says ? "as usual" : "inverted"));
      chosen.erase(at);
    }
  }
  if (const auto at = chosen.find("masks.subpixels"); at != chosen.end()) {
    if (at->second.number == 3 || at->second.number == 1)
      draft.masks.subpixels = static_cast<std::uint32_t>(*at->second.number);
    else
      chosen.erase(at);
  }
}

void settle_subpixels(const Chosen& chosen, bool channels_differ, Draft& draft) {
  if (draft.masks.subpixels || !channels_differ) return;
  const auto width = number_in(chosen, "image.width_px");
  draft.masks.subpixels = draft.description.subpixels = 3;
  draft.masks.subpixels_sure = width && *width == 3.0 * draft.masks.size.width_px;
  draft.notes.push_back(
      draft.masks.subpixels_sure
          ? "The masks are in colour, and the width that is stated is three times theirs: three grey values in each "
            "pixel."
          : "The masks are in colour, and red, green and blue differ: taken as three grey values side by side in each "
            "pixel. Where that is wrong, set masks.subpixels to 1.");
}

// The setting that a value not taken could have been; null: none.
const Candidate* outdone(const std::vector<Candidate>& candidates, const Chosen& chosen, std::size_t value) {
  for (const Candidate& one : candidates)
    if (one.value == value && chosen.contains(one.path)) return &one;
  return nullptr;
}

void list_unused(const Texts& texts, const std::vector<Candidate>& candidates, const Chosen& chosen, Draft& draft) {
  std::set<std::size_t> used;
  for (const auto& [path, one] : chosen) used.insert(one.value);
  constexpr Meanings trade = layer | height | thickness | exposure | base | lift | retract | speed | rest | pixel |
                             pitch | resolution | wide | tall | count | resin | volume;
  for (std::size_t i = 0; i < texts.values.size(); ++i) {
    const ReadValue& value = texts.values[i];
    if (used.contains(i) || !value.number || (value.words.all() & trade) == 0) continue;
    std::string why = "no setting of a job";
    if ((value.words.own & countish) && (value.words.all() & layer) && !(value.words.all() & base))
      why = fmt::format("there are {} masks", draft.masks.count);
    else if (const Candidate* other = draft.unused.size() < 200 ? outdone(candidates, chosen, i) : nullptr)
      why = other->path + (agree(*other, chosen.at(other->path), texts.values) ? " again" : " is taken from elsewhere");
    else if (value.at.remark)
      why = "in a comment";
    draft.unused.push_back({value.at.entry, value.at.key, value.at.text, std::move(why)});
  }
}

void fill(Draft& draft, const Texts& texts, bool channels_differ) {
  const std::vector<Candidate> candidates = candidates_in(texts.values, draft.masks);
  Chosen chosen = choose(candidates, texts);
  settle_flags(chosen, texts, draft);
  settle_subpixels(chosen, channels_differ, draft);
  compare(chosen);
  const auto width = number_in(chosen, "image.width_px");
  if (width && *width != pixels_of(draft.masks).width_px) chosen.erase("image.width_px");
  std::vector<DraftSetting> derived = pitch_from_plate(chosen, draft.masks);
  const bool has_base = chosen.contains("exposure.base_s");  // of how many layers, then
  for (const SettingField& field : setting_fields()) {
    const auto at = chosen.find(field.path);
    const auto other = std::find_if(derived.begin(), derived.end(),
                                    [&](const DraftSetting& one) { return one.source.path == field.path; });
    if (at != chosen.end())
      draft.settings.push_back(setting_from(at->second, texts.values[at->second.value]));
    else if (other != derived.end())
      draft.settings.push_back(*other);
    else if (field.required || (has_base && field.path == std::string_view("exposure.base_layers")) ||
             (!draft.masks.rival.empty() && field.path == std::string_view("masks.files")))
      draft.settings.push_back(asked(field));
  }
  list_unused(texts, candidates, chosen, draft);
  for (const DraftSetting& one : draft.settings) draft.description.settings.push_back(one.source);
}

// Names that hold the job's own name fit that job only.
void note_names(Draft& draft, const std::string& stem) {
  if (stem.size() < 3) return;
  if (draft.masks.files.find(stem) != std::string::npos)
    draft.description.masks.clear();  // the largest family of masks, whatever its name
  std::set<std::string> names;
  for (const DraftSetting& one : draft.settings)
    if (one.source.entry.find(stem) != std::string::npos) names.insert(one.source.entry);
  for (const std::string& name : names)
    draft.notes.push_back(fmt::format(
        "\"{}\" is named after the job: the description fits archives with a file of this name only.", name));
}

// A value as a description holds it; none where it does not fit the setting.
std::optional<std::string> as_constant(const SettingField& field, const std::string& text) {
  const bool names = std::string_view(field.path) == "masks.files";
  if (field.kind == SettingKind::text) return names && !is_pattern(text) ? std::nullopt : std::optional(text);
  if (field.kind == SettingKind::flag) {
    const auto flag = flag_of(text);
    return flag ? std::optional(*flag ? "true" : "false") : std::nullopt;
  }
  const std::string_view unit = field.unit;
  const bool converts = unit == "mm" || unit == "s";  // "50 um" is an answer too, and "2 s" none where mm are asked for
  const auto number = converts ? typed_number(text, {0, 1e9, false, field.unit}).value : leading_number(text);
  if (std::string_view(field.path) == "masks.subpixels" && number != 1 && number != 3) return std::nullopt;
  if (!number || *number < 0 || (field.kind == SettingKind::whole && *number != std::floor(*number)))
    return std::nullopt;
  return number_of(*number);
}

std::string expected_for(const SettingField& field) {
  if (field.kind == SettingKind::flag) return "yes or no";
  if (field.kind == SettingKind::text) return fmt::format("names with one star, such as {}", field.example);
  return fmt::format("a {} such as {}", field.kind == SettingKind::whole ? "whole number" : "number", field.example);
}

// What the model of an image stack says is read from there, and not asked.
void leave_to_stack(const std::vector<SettingValue>& said, Draft& out) {
  const auto answered = [&](const DraftSetting& one) {
    return one.value.empty() && std::any_of(said.begin(), said.end(),
                                            [&](const SettingValue& value) { return value.path == one.source.path; });
  };
  if (std::erase_if(out.settings, answered) > 0)
    out.notes.push_back("The 3MF model says how large a pixel and how high a layer is.");
}

}  // namespace

Result<Draft> draft_description(const std::filesystem::path& path, const Limits& limits) {
  const std::string file = path.string();
  const auto store = open_store(path, limits);
  if (!store) return tl::unexpected(store.error());
  const auto manifest = (*store)->find("manifest.json");
  if (!manifest) return tl::unexpected(manifest.error());
  if (*manifest) {
    const auto text = read_small(**store, **manifest, file, limits);
    if (!text) return tl::unexpected(text.error());
    if (is_ours(*text))
      return tl::unexpected(Error{ErrorKind::usage, file, "this is a layer archive, which needs no description",
                                  "an archive of another program", "Read it as it is, with \"hairline check\"."});
  }
  const auto entries = (*store)->all();
  if (!entries) return tl::unexpected(entries.error());
  auto family = find_family(**store, *entries, {});
  if (!family) return tl::unexpected(std::move(family.error()));
  if (family->masks.empty() || !family->picture) return tl::unexpected(no_masks(file, *entries, *family));
  if (auto sound = order_and_check(family->masks, family->pattern, {file, 0, true}, limits); !sound)
    return tl::unexpected(std::move(sound.error()));
  const auto doubts = doubts_of(**store, family->masks, *family->picture, file, limits);
  if (!doubts) return tl::unexpected(doubts.error());
  Draft out;
  out.masks.files = out.description.masks = text_of(family->pattern);
  out.masks.count = family->masks.size();
  out.masks.size = family->picture->size;
  out.masks.left_out = family->left_out;
  out.masks.inverted = doubts->inverted;
  if (family->rival) {
    out.masks.rival = text_of(*family->rival);
    out.description.masks.clear();
    out.notes.push_back(
        fmt::format("The masks may be {}: that has to be said. {}", masks_to_choose(out), several_folders));
  }
  const std::filesystem::path whole = std::filesystem::path(file).lexically_normal();
  const std::string stem = (whole.has_filename() ? whole : whole.parent_path()).stem().string();
  out.description.label = stem;
  const Texts texts = read_texts(**store, *entries, file, limits, out.notes);
  fill(out, texts, doubts->subpixels);
  note_names(out, stem);
  const auto stack = find_image_stack(**store, *entries, file, {.limits = limits});
  if (stack && *stack) leave_to_stack((*stack)->settings, out);
  return out;
}

std::string masks_to_choose(const Draft& draft) {
  return draft.masks.rival.empty() ? "" : draft.masks.files + " or " + draft.masks.rival;
}

bool asks_invert(const Draft& draft) {
  const auto says = [](const DraftSetting& one) { return one.source.path == "masks.invert"; };
  return draft.masks.inverted && !draft.description.invert &&
         std::none_of(draft.settings.begin(), draft.settings.end(), says);
}

Result<void> answer(Draft& draft, const SettingValue& value) {
  const auto setting = parse_setting(value.path + "=" + value.value);
  if (!setting) return tl::unexpected(setting.error());
  const auto text = as_constant(*find_setting_field(value.path), value.value);
  if (!text)
    return tl::unexpected(Error{ErrorKind::usage, "", fmt::format("\"{}\" is no answer", value.value),
                                expected_for(*find_setting_field(value.path)), "Type it again."});
  if (value.path == "masks.invert") {
    draft.description.invert = *text == "true";
    return {};
  }
  if (value.path == "masks.subpixels") {
    draft.description.subpixels = draft.masks.subpixels = *text == "1" ? 1 : 3;
    return {};
  }
  DraftSetting answered;
  answered.source.path = value.path;
  answered.source.value = answered.value = *text;
  answered.why = "as answered";
  const auto place = [&](const std::string& path) { return find_setting_field(path) - setting_fields().data(); };
  const auto put = [&](auto& list, const auto& one, auto path_of) {
    std::erase_if(list, [&](const auto& other) { return path_of(other) == value.path; });
    const auto at = std::find_if(list.begin(), list.end(),
                                 [&](const auto& other) { return place(path_of(other)) > place(value.path); });
    list.insert(at, one);
  };
  put(draft.description.settings, answered.source, [](const SettingSource& one) { return one.path; });
  put(draft.settings, answered, [](const DraftSetting& one) { return one.source.path; });
  return {};
}

}  // namespace hairline
