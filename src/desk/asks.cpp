#include "asks.hpp"

#include <fmt/format.h>

#include "fragment.hpp"
#include "hairline/describe.hpp"
#include "hairline/say_draft.hpp"
#include "json.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;
using From = SettingSource::From;

std::optional<ArchiveDescription> kept_answers(const Folder& folder, const std::string& job) {
  const auto file = answers_file(folder, job);
  if (!file) return {};
  auto kept = read_description(*file);
  if (!kept) return {};
  return std::move(*kept);
}

// What was answered earlier goes before what the archive says now.
void put_answers(const ArchiveDescription& kept, Draft& draft) {
  for (const SettingSource& one : kept.settings)
    if (one.from == From::constant) (void)answer(draft, {one.path, one.value});
  if (kept.invert) (void)answer(draft, {"masks.invert", *kept.invert ? "true" : "false"});
  if (kept.subpixels) (void)answer(draft, {"masks.subpixels", std::to_string(*kept.subpixels)});
}

Result<Draft> draft_of(const Folder& folder, const std::string& job) {
  const auto path = folder.job(job);
  if (!path) return tl::unexpected(path.error());
  auto draft = draft_description(*path);
  if (!draft) return draft;
  if (const auto kept = kept_answers(folder, job)) put_answers(*kept, *draft);
  return draft;
}

// One thing to a person: the pitch in x and y are one where nothing sets them apart.
struct Ask {
  std::vector<std::string> paths;
  const SettingField* field = nullptr;
  std::string value = {}, found = {}, sure = {}, why = {}, from = {};
  std::string choice = {};  ///< what it may be; then it has to be said
};

bool alike(const Ask& a, const Ask& b) {
  return std::string_view(a.field->words) == b.field->words && a.value == b.value && a.sure == b.sure &&
         a.from == b.from;
}

std::vector<Ask> asks_of(const Draft& draft) {
  std::vector<Ask> asks;
  const auto add = [&asks](Ask one) {
    if (!asks.empty() && alike(asks.back(), one))
      asks.back().paths.push_back(one.paths.front());
    else
      asks.push_back(std::move(one));
  };
  for (const DraftSetting& one : draft.settings) {
    const bool in_archive = one.source.from == From::entry;
    add({.paths = {one.source.path},
         .field = find_setting_field(one.source.path),
         .value = one.value,
         .found = one.found,
         .sure = sureness_word(one),
         .why = one.why,
         .from = in_archive ? one.source.entry + " " + one.source.key : "",
         .choice = one.source.path == "masks.files" ? masks_to_choose(draft) : ""});
  }
  const auto about_masks = [&](const char* path, const std::string& value, const char* sure) {
    add({.paths = {path}, .field = find_setting_field(path), .value = value, .sure = sure});
  };
  const std::optional<bool>& invert = draft.description.invert;
  if (asks_invert(draft))
    about_masks("masks.invert", "", "ask");
  else if (invert && draft.masks.inverted)
    about_masks("masks.invert", *invert ? "true" : "false", "sure");
  if (draft.masks.subpixels && !draft.masks.subpixels_sure)
    about_masks("masks.subpixels", std::to_string(draft.description.subpixels.value_or(*draft.masks.subpixels)),
                "unsure");
  return asks;
}

const char* kind_of(const SettingField& field) {
  static constexpr const char* words[] = {"number", "whole", "flag", "text"};  // as in SettingKind
  return words[static_cast<std::size_t>(field.kind)];
}

Json json_of(const Ask& ask) {
  const SettingField& field = *ask.field;
  return {{"paths", ask.paths},
          {"words", field.words},
          {"unit", field.unit},
          {"kind", kind_of(field)},
          {"example", ask.choice.empty() ? field.example : ask.choice},
          {"required", field.required || !ask.choice.empty()},
          {"value", ask.value},
          {"found", ask.found},
          {"sure", ask.sure},
          {"why", ask.why},
          {"from", ask.from}};
}

Result<Archive> tried(const fs::path& path, const Draft& draft) {
  OpenOptions options;
  options.description = draft.description;
  return Archive::open(path, options);
}

// The values of a request, by path; those without a text are left as they are.
std::vector<SettingValue> typed_values(const Json& asked) {
  std::vector<SettingValue> values;
  const Json typed = asked.value("values", Json::object());
  if (!typed.is_object()) return values;
  for (const auto& [path, value] : typed.items())
    if (value.is_string() && !value.get<std::string>().empty()) values.push_back({path, value.get<std::string>()});
  return values;
}

bool is_about(const Error& error, const std::string& path) {
  return error.found.find('"' + path + '"') != std::string::npos;
}

// For who has the field before them: its words, and no options to type.
std::string said_at_field(Error error, const SettingField& field) {
  const std::string path = fmt::format("\"{}\"", field.path);
  error.found.replace(error.found.find(path), path.size(), fmt::format("the {}", field.words));
  return to_paragraph({error.kind, "", error.found, error.expected, "", error.layer});
}

Answer ask_answer(Shared& shared, const Call& call) {
  const std::string& job = call.names[0];
  const auto draft = draft_of(shared.folder, job);
  if (!draft) return refusal(draft.error());
  Json fields = Json::array();
  for (const Ask& ask : asks_of(*draft)) fields.push_back(json_of(ask));
  return json_answer({{"fields", fields},
                      {"said", fragment_of(say_draft(*draft, job))},
                      {"kept", kept_answers(shared.folder, job).has_value()}});
}

// Each value is held against its setting, then the archive is tried with all of them; kept where that is wanted and
// nothing is wrong.
Answer take_answers(Shared& shared, const Call& call) {
  const std::string& job = call.names[0];
  const auto path = shared.folder.job(job);
  if (!path) return refusal(path.error());
  auto draft = draft_of(shared.folder, job);
  if (!draft) return refusal(draft.error());
  Json errors = Json::object();
  const Json asked = object_in(call.body);
  const std::vector<SettingValue> values = typed_values(asked);
  for (const SettingValue& value : values)
    if (const auto taken = answer(*draft, value); !taken) errors[value.path] = to_paragraph(taken.error());
  const auto trial = tried(*path, *draft);
  for (const SettingValue& value : values)  // what only the whole archive tells: a number out of its range
    if (!trial && !errors.contains(value.path) && is_about(trial.error(), value.path))
      errors[value.path] = said_at_field(trial.error(), *find_setting_field(value.path));
  const bool keep = asked.value("keep", Json()) == true && errors.empty() && trial;
  if (keep) {
    const auto file = answers_file(shared.folder, job);
    if (!file) return refusal(file.error());
    draft->description.label = job;
    if (const auto wrote = write_text(*file, write_description(draft->description)); !wrote)
      return refusal(wrote.error());
  }
  return json_answer(
      {{"errors", errors}, {"opens", trial.has_value()}, {"said", fragment_of(say_trial(trial))}, {"kept", keep}});
}

}  // namespace

Result<fs::path> answers_file(const Folder& folder, const std::string& job) {
  return folder.own_file("descriptions", job);
}

OpenOptions open_options_for(const Folder& folder, const std::string& job) {
  OpenOptions options;
  options.description = kept_answers(folder, job);
  if (!options.description) options.known = read_descriptions(user_descriptions()).value_or(options.known);
  return options;
}

void add_ask_routes(Routes& routes, Shared& shared) {
  routes.push_back({"GET", "/api/jobs/{}/asks", with(shared, ask_answer), true});
  routes.push_back({"POST", "/api/jobs/{}/asks", with(shared, take_answers), true});
}

}  // namespace hairline::desk
