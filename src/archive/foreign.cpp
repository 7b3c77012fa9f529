#include "foreign.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "../base/and_list.hpp"
#include "../base/ascii.hpp"
#include "../base/fields.hpp"
#include "families.hpp"
#include "hairline/files.hpp"
#include "image_stack.hpp"
#include "manifest.hpp"

namespace hairline::archive {
namespace {

using Json = nlohmann::ordered_json;
using From = SettingSource::From;

constexpr JsonKind settings_kind{
    .format = "layer-archive",
    .damaged = "",
    .other = "",
    .convert = "",
    .noun = "what was given for the archive",
    .name = "\"{}\"",
    .lacks = "nothing says \"{0}\"",
    .correct = "Correct it where it is given: as an option, by --set, or in the archive description.",
    .add = "Give it by --set.",
    .above = "a number above {} and at most {}{}",
    .from = "a number of at least {} and at most {}{}"};

// A value in the kind its setting has; nothing where it cannot be that.
std::optional<Json> typed(const SettingField& field, const std::string& text, double factor) {
  if (field.kind == SettingKind::text) return Json(valid_utf8(text));
  if (field.kind == SettingKind::flag) {
    const auto flag = flag_of(text);
    return flag ? std::optional(Json(*flag)) : std::nullopt;
  }
  const auto number = leading_number(text);
  if (!number) return std::nullopt;
  const double value = twelve_digits(*number * factor);
  if (value == std::floor(value) && value >= 0 && value < 1e15) return Json(static_cast<std::uint64_t>(value));
  return field.kind == SettingKind::whole ? std::nullopt : std::optional(Json(value));
}

const char* words_for(SettingKind kind) {
  if (kind == SettingKind::text) return "a text";
  if (kind == SettingKind::whole) return "a whole number";
  return kind == SettingKind::flag ? "true or false" : "a number";
}

// What is known of an archive, by path, and where it comes from.
struct Given {
  Json value;
  std::string where;
};
using Gathered = std::map<std::string, Given>;

Result<void> take(Gathered& into, const SettingValue& one, double factor, const std::string& where,
                  const std::string& file) {
  const SettingField* field = find_setting_field(one.path);
  auto value = typed(*field, one.value, factor);
  if (!value)
    return tl::unexpected(Error{ErrorKind::usage, file,
                                fmt::format("\"{}\" is \"{}\" ({})", one.path, one.value, where),
                                words_for(field->kind), "Correct it where it is given."});
  into[one.path] = {std::move(*value), where};
  return {};
}

Result<void> take_all(Gathered& into, const std::vector<SettingValue>& values, bool only_missing) {
  for (const SettingValue& one : values) {
    if (only_missing && into.contains(one.path)) continue;
    if (auto taken = take(into, one, 1, "as an option", ""); !taken) return taken;
  }
  return {};
}

// ---- settings files ----

// Settings files of one archive, each read once.
class Texts {
 public:
  Texts(const Store& store, const std::string& file, const Limits& limits)
      : store_(store), file_(file), limits_(limits) {}
  /// Null: there is no such file.
  Result<const std::string*> text(const std::string& name) {
    const auto known = texts_.find(name);
    if (known != texts_.end()) return &known->second;
    const auto entry = store_.find(name);
    if (!entry) return tl::unexpected(entry.error());
    if (!*entry || (*entry)->folder) return nullptr;
    auto read = read_small(store_, **entry, file_, limits_);
    if (!read) return tl::unexpected(std::move(read.error()));
    return &texts_.emplace(name, std::move(*read)).first->second;
  }

  Result<std::optional<std::string>> value(const SettingSource& from) {
    const auto in = text(from.entry);
    if (!in) return tl::unexpected(in.error());
    if (!*in) return std::nullopt;
    auto found = find_value(**in, from.entry, from.syntax, from.key);
    if (!found) found.error().file = file_;
    return found;
  }

 private:
  const Store& store_;
  std::string file_;
  const Limits& limits_;
  std::map<std::string, std::string> texts_;
};

bool fits(const ArchiveDescription& description, const std::vector<Entry>& entries, Texts& texts) {
  if (!description.masks.empty()) {
    const Pattern pattern = to_pattern(description.masks);
    if (std::none_of(entries.begin(), entries.end(),
                     [&](const Entry& entry) { return !entry.folder && matches(pattern, entry.name); }))
      return false;
  }
  for (const SettingSource& one : description.settings) {
    if (one.from != From::entry) continue;
    const auto value = texts.value(one);
    if (!value || !*value) return false;
  }
  return true;
}

std::string name_of(const ArchiveDescription& description) {
  if (description.label.empty()) return description.file.empty() ? "the description given" : description.file;
  return description.file.empty() ? fmt::format("\"{}\"", description.label)
                                  : fmt::format("\"{}\" ({})", description.label, description.file);
}

Result<void> take_described(Gathered& into, Texts& texts, const std::string& file,
                            const ArchiveDescription& description) {
  const std::string here = "in " + name_of(description);
  for (const SettingSource& one : description.settings) {
    if (one.from == From::ask) continue;
    std::optional<std::string> value = one.value;
    std::string where = here;
    if (one.from == From::entry) {
      auto found = texts.value(one);
      if (!found) return tl::unexpected(std::move(found.error()));
      value = std::move(*found);
      where = fmt::format("\"{}\" in \"{}\"", one.key, one.entry);
    }
    if (!value)
      return tl::unexpected(Error{ErrorKind::mismatch, file, fmt::format("the archive has no {}", where),
                                  "what " + name_of(description) + " names", "Draft the description anew."});
    if (auto taken = take(into, {one.path, *value}, one.factor, where, file); !taken) return taken;
  }
  const auto say = [&](const char* path, Json value) { into[path] = {std::move(value), here}; };
  if (!description.masks.empty()) say("masks.files", description.masks);
  if (description.invert) say("masks.invert", *description.invert);
  if (description.subpixels) say("masks.subpixels", *description.subpixels);
  if (description.mirrored) say("image.mirrored", true);
  return {};
}

Result<Gathered> gather(Texts& texts, const std::string& file, const std::optional<ImageStack>& stack,
                        const ArchiveDescription* description, const OpenOptions& options) {
  Gathered out;
  Result<void> taken;
  if (stack)
    for (const SettingValue& one : stack->settings)
      if (taken) taken = take(out, one, 1, "in the 3MF model", file);
  if (taken && description != nullptr) taken = take_described(out, texts, file, *description);
  if (taken) taken = take_all(out, options.set, false);
  if (taken) taken = take_all(out, options.otherwise, true);
  if (!taken) return tl::unexpected(std::move(taken.error()));
  if (const auto mirrored = out.find("masks.mirrored"); mirrored != out.end()) out["image.mirrored"] = mirrored->second;
  return out;
}

// ---- masks ----

bool flag_in(const Gathered& given, const char* path) {
  const auto at = given.find(path);
  return at != given.end() && at->second.value.is_boolean() && at->second.value.get<bool>();
}

Result<MaskKind> mask_kind(const Gathered& given, const std::string& file) {
  MaskKind out;
  out.invert = flag_in(given, "masks.invert");
  if (const auto at = given.find("masks.subpixels"); at != given.end()) {
    if (at->second.value != 1 && at->second.value != 3)
      return tl::unexpected(Error{ErrorKind::usage, file,
                                  fmt::format("\"masks.subpixels\" is {}", json_text(at->second.value)), "1 or 3",
                                  "Correct it where it is given."});
    out.subpixels = at->second.value.get<std::uint32_t>();
  }
  return out;
}

bool mostly_white_outside(const Layer& layer) {
  const std::uint32_t width = layer.size.width_px, height = layer.size.height_px;
  std::uint64_t white = 0;
  for (const std::uint32_t row : {0u, height - 1})
    for (const Run& run : layer.row(row))
      if (run.value >= solid_from) white += run.end - run.begin;
  for (std::uint32_t r = 0; r < height; ++r) {
    const auto runs = layer.row(r);
    if (runs.empty()) continue;
    if (runs.front().begin == 0 && runs.front().value >= solid_from) ++white;
    if (runs.back().end == width && runs.back().value >= solid_from) ++white;
  }
  return white > std::uint64_t{width} + height;  // half of the border
}

bool colours_differ(const Layer& wide) {  // three values of each pixel side by side
  for (std::uint32_t r = 0; r < wide.size.height_px; ++r)
    for (const Run& run : wide.row(r))
      if (run.begin % 3 != 0 || run.end % 3 != 0) return true;
  return false;
}

bool mostly_grey(const Layer& layer) {
  std::uint64_t grey = 0;
  for (std::uint32_t r = 0; r < layer.size.height_px; ++r)
    for (const Run& run : layer.row(r))
      if (run.value < 255) grey += run.end - run.begin;
  return 2 * grey > std::uint64_t{layer.size.width_px} * layer.size.height_px;
}

}  // namespace

std::optional<bool> flag_of(std::string_view text) {
  const std::string word = small_letters(text);
  for (const char* yes : {"true", "yes", "y", "on", "1"})
    if (word == yes) return true;
  for (const char* no : {"false", "no", "n", "off", "0"})
    if (word == no) return false;
  return std::nullopt;
}

Result<Doubts> doubts_of(const Store& store, const std::vector<Entry>& layers, const Picture& picture,
                         const std::string& file, const Limits& limits) {
  Doubts out;
  std::vector<std::byte> bytes;
  for (const std::size_t i : {std::size_t{0}, layers.size() / 2, layers.size() - 1}) {
    const Wanted wanted{layers[i], static_cast<std::uint32_t>(i + 1)};
    if (auto read = store.read(wanted, bytes); !read) return tl::unexpected(std::move(read.error()));
    const PngSource source{file, *wanted.layer};
    const auto layer = decode_png(bytes, picture.size, source, limits);
    if (!layer) return tl::unexpected(layer.error());
    out.inverted = out.inverted && mostly_white_outside(*layer);
    out.grey = out.grey && mostly_grey(*layer);
    if (!picture.colour) continue;
    const auto wide = decode_subpixels(bytes, {3 * picture.size.width_px, picture.size.height_px}, source, limits);
    if (!wide) return tl::unexpected(wide.error());
    out.subpixels = out.subpixels || colours_differ(*wide);
  }
  return out;
}

namespace {

// Files of a folder that are jobs by their names.
std::size_t archives_in(const std::string& folder) {
  std::size_t count = 0;
  std::error_code error;
  for (std::filesystem::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
    const std::string extension = small_letters(entry->path().extension().string());
    count += extension == ".zip" || extension == ".3mf";
  }
  return count;
}

// What there is instead of masks, by its first file.
std::string held_instead(const std::vector<Entry>& entries, const Family& family) {
  const auto is_file = [](const Entry& one) { return !one.folder; };
  const auto first = std::find_if(entries.begin(), entries.end(), is_file);
  if (first == entries.end()) return "nothing";
  const auto others = std::count_if(first, entries.end(), is_file) - 1;
  return fmt::format("\"{}\"{}{}", first->name,
                     others > 0 ? fmt::format(" and {} more {}", others, others == 1 ? "file" : "files") : "",
                     family.no_png > 0
                         ? fmt::format("; {} called .png {} no PNG", family.no_png, family.no_png == 1 ? "is" : "are")
                         : "");
}

}  // namespace

Error no_masks(const std::string& file, const std::vector<Entry>& entries, const Family& family) {
  if (const std::size_t count = archives_in(file); count > 0)
    return {ErrorKind::not_found, file,
            fmt::format("the folder holds {} {}, and no masks of its own", count, count == 1 ? "archive" : "archives"),
            "one job", fmt::format("Name one of them, or check all with \"hairline queue {}\".", shell_word(file))};
  return {ErrorKind::not_found, file,
          fmt::format("the archive holds no manifest.json and no PNG masks whose names are numbered; it holds {}",
                      held_instead(entries, family)),
          "a layer archive, or a ZIP or folder of masks that differ in one number",
          "Check that this is the right file, and unpack an archive inside it. PNG masks that are not called .png are "
          "named by --set masks.files=NAMES; other pictures have to be exported as PNG."};
}

namespace {

// ---- what is missing ----

std::string listed(const std::vector<std::string>& words) {
  return and_list(words, [](const std::string& word) { return word; });
}

Error missing(const std::vector<const SettingField*>& fields, const std::string& file, const Family& family,
              const OpenOptions& options) {
  constexpr std::size_t longest = 200;  // of a pattern that anyone would type
  const std::string pattern = text_of(family.pattern);
  std::vector<std::string> words, typed_options;
  for (const SettingField* field : fields) {
    const bool names = std::string_view(field->path) == "masks.files";
    const std::string word = std::string(field->kind == SettingKind::flag ? "" : "the ") + field->words,
                      option = option_for(*field, names && pattern.size() <= longest ? pattern : field->example);
    if (std::find(words.begin(), words.end(), word) == words.end()) words.push_back(word);
    if (std::find(typed_options.begin(), typed_options.end(), option) == typed_options.end())
      typed_options.push_back(option);
  }
  Error out =
      Error{ErrorKind::usage, file,
            fmt::format("the archive holds {} {} \"{}\" of {} x {} pixels{} and no manifest.json of a layer archive; "
                        "nothing says {}",
                        family.masks.size(), family.masks.size() == 1 ? "mask" : "masks", pattern,
                        family.picture->size.width_px, family.picture->size.height_px,
                        family.rival ? fmt::format(" (and others \"{}\")", text_of(*family.rival)) : "", listed(words)),
            "options or an archive description that say it",
            fmt::format("Draft a description once with \"hairline describe {}\", or say it with your own numbers.{}",
                        shell_word(file), family.rival ? std::string(" ") + several_folders : "")};
  out.command = options.command.empty() ? "hairline check " + shell_word(file) : options.command;
  for (const std::string& option : typed_options) out.command += " " + option;
  return out;
}

std::vector<const SettingField*> missing_fields(const Gathered& given, const ArchiveDescription* description,
                                                const Doubts& doubts, const Family& family) {
  std::vector<const SettingField*> out;
  for (const SettingField& field : setting_fields()) {
    const std::string path = field.path;
    if (given.contains(path)) continue;
    bool wanted =
        field.required || (path == "masks.invert" && doubts.inverted) ||
        (path == "masks.subpixels" && doubts.subpixels) || (path == "masks.files" && family.rival) ||
        (path == "exposure.base_layers" && given.contains("exposure.base_s"));  // else it would count for nothing
    if (description != nullptr)
      for (const SettingSource& one : description->settings)
        wanted = wanted || (one.from == From::ask && one.path == path);
    if (wanted) out.push_back(&field);
  }
  return out;
}

// ---- the manifest it would have had ----

Result<void> check_size(const Gathered& given, const Size& size, const std::string& file) {
  for (const auto& [path, found] : {std::pair{"image.width_px", size.width_px}, {"image.height_px", size.height_px}}) {
    const auto at = given.find(path);
    if (at == given.end() || at->second.value == found) continue;
    return tl::unexpected(Error{ErrorKind::mismatch, file,
                                fmt::format("the masks are {} x {} pixels", size.width_px, size.height_px),
                                fmt::format("\"{}\" {} ({})", path, json_text(at->second.value), at->second.where),
                                "Check which pictures are the masks: --set masks.files=NAMES names them."});
  }
  return {};
}

std::string manifest_of(const Gathered& given, const Size& size, std::size_t layers, const Pattern& pattern) {
  Json out{{"format", "layer-archive"}, {"version", 1}};
  for (const auto& [path, one] : given) {
    if (path.starts_with("masks.")) continue;
    const std::size_t dot = path.find('.');
    (dot == std::string::npos ? out[path] : out[path.substr(0, dot)][path.substr(dot + 1)]) = one.value;
  }
  out["image"]["width_px"] = size.width_px;
  out["image"]["height_px"] = size.height_px;
  out["layers"]["count"] = layers;
  out["layers"]["files"] = valid_utf8(text_of(pattern));
  return json_text(out);
}

}  // namespace

bool is_ours(const std::string& manifest) {
  const Json all = json_in(manifest);
  return all.is_discarded() || (all.is_object() && all.value("format", Json()) == "layer-archive");
}

Result<std::string> with_settings(const std::string& manifest, const std::vector<SettingValue>& set, MaskKind& masks) {
  Gathered given;
  if (auto taken = take_all(given, set, false); !taken) return tl::unexpected(std::move(taken.error()));
  auto kind = mask_kind(given, "");
  if (!kind) return tl::unexpected(std::move(kind.error()));
  masks = *kind;
  Json all = json_in(manifest);
  if (given.empty() || !all.is_object()) return manifest;
  for (const auto& [path, one] : given) {
    std::string to = path == "masks.files" ? "layers.files" : path == "masks.mirrored" ? "image.mirrored" : path;
    if (to.starts_with("masks.")) continue;
    std::replace(to.begin(), to.end(), '.', '/');
    const std::size_t slash = to.find('/');
    if (slash != std::string::npos && !all[to.substr(0, slash)].is_object()) all[to.substr(0, slash)] = Json::object();
    all[Json::json_pointer("/" + to)] = one.value;
  }
  return json_text(all);
}

Result<const ArchiveDescription*> fitting(const Store& store, const std::vector<Entry>& entries,
                                          const std::string& file, const OpenOptions& options) {
  if (options.description) return &*options.description;
  Texts texts(store, file, options.limits);
  std::vector<const ArchiveDescription*> found;
  for (const ArchiveDescription& one : options.known)
    if (fits(one, entries, texts)) found.push_back(&one);
  if (found.size() <= 1) return found.empty() ? nullptr : found.front();
  std::vector<std::string> names;
  for (const ArchiveDescription* one : found) names.push_back(name_of(*one));
  return tl::unexpected(Error{ErrorKind::mismatch, file, "the archive fits several descriptions: " + listed(names),
                              "one that fits", "Choose one with --description FILE."});
}

namespace {

Result<std::optional<Pattern>> pattern_in(const Gathered& given, const std::string& file) {
  const auto at = given.find("masks.files");
  if (at == given.end()) return std::nullopt;
  const std::string text = at->second.value.get<std::string>();
  if (is_pattern(text)) return to_pattern(text);
  return tl::unexpected(Error{ErrorKind::usage, file, fmt::format("\"masks.files\" is \"{}\"", text),
                              "a path inside the archive with one star, such as \"out/*.png\"",
                              "Correct it where it is given."});
}

// The masks in order, each entry checked.
Result<Family> find_masks(const Store& store, const std::vector<Entry>& entries, const Gathered& given,
                          const std::string& file, const Limits& limits) {
  const auto pattern = pattern_in(given, file);
  if (!pattern) return tl::unexpected(pattern.error());
  auto family = find_family(store, entries, *pattern);
  if (!family) return family;
  if (family->masks.empty() || !family->picture) return tl::unexpected(no_masks(file, entries, *family));
  Numbering numbering{file, 0, true, family->left_out};
  if (const auto count = given.find("layers.count"); count != given.end())
    numbering.count =
        static_cast<std::uint32_t>(std::min<std::uint64_t>(count->second.value.get<std::uint64_t>(), UINT32_MAX));
  if (auto sound = order_and_check(family->masks, family->pattern, numbering, limits); !sound)
    return tl::unexpected(std::move(sound.error()));
  return family;
}

// The sheets of an image stack as masks. Its names may be any; the pattern is that of its folder.
Family family_of(ImageStack stack) {
  const std::string& name = stack.sheets.front().name;
  const std::size_t slash = name.rfind('/');
  return {{slash == std::string::npos ? "" : name.substr(0, slash + 1), ".png"},
          std::move(stack.sheets),
          Picture{stack.size, stack.colour, false},
          {},
          {}};
}

Error no_mask_stack(const Doubts& doubts, const std::string& file) {
  return {ErrorKind::version, file,
          doubts.subpixels ? "the sheets of the image stack are in colour"
                           : "the sheets of the image stack are grey nearly everywhere, as distances are",
          "sheets that are black and white but for their edges",
          "Export the job as masks. If they are masks, name them with --set masks.files=NAMES."};
}

}  // namespace

Result<Opened> open_foreign(const Store& store, const std::vector<Entry>& entries, const std::string& file,
                            const ArchiveDescription* description, const OpenOptions& options) {
  auto stack = find_image_stack(store, entries, file, options);
  if (!stack) return tl::unexpected(std::move(stack.error()));
  Texts texts(store, file, options.limits);
  const auto given = gather(texts, file, *stack, description, options);
  if (!given) return tl::unexpected(given.error());
  const bool from_stack = stack->has_value();
  auto family = from_stack ? Result<Family>(family_of(std::move(**stack)))
                           : find_masks(store, entries, *given, file, options.limits);
  if (!family) return tl::unexpected(std::move(family.error()));
  auto& layers = family->masks;
  auto doubts = doubts_of(store, layers, *family->picture, file, options.limits);
  if (!doubts) return tl::unexpected(std::move(doubts.error()));
  if (from_stack && (doubts->subpixels || doubts->grey)) return tl::unexpected(no_mask_stack(*doubts, file));
  if (const auto fields = missing_fields(*given, description, *doubts, *family); !fields.empty())
    return tl::unexpected(missing(fields, file, *family, options));
  const auto kind = mask_kind(*given, file);
  if (!kind) return tl::unexpected(kind.error());
  const Size size{family->picture->size.width_px * kind->subpixels, family->picture->size.height_px};
  if (auto same = check_size(*given, size, file); !same) return tl::unexpected(std::move(same.error()));
  auto settings =
      parse_settings(manifest_of(*given, size, layers.size(), family->pattern), file, options.limits, settings_kind);
  if (!settings) return tl::unexpected(std::move(settings.error()));
  if (description != nullptr)
    settings->remarks.push_back(fmt::format("Read by the archive description {}.", name_of(*description)));
  if (from_stack && !given->contains("masks.invert"))
    settings->remarks.push_back("The level set has one sign in black and white; white is taken as solid.");
  if (!family->left_out.empty()) settings->remarks.push_back(left_out_text(family->left_out));
  return Opened{std::move(*settings), std::move(layers), *kind};
}

}  // namespace hairline::archive
