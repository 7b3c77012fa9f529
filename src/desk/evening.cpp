#include "evening.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "../calibrate/reading_fields.hpp"
#include "hairline/coupon.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

Json field_json(const FieldRule& rule, const std::string& value) {
  Json words = Json::array();
  for (std::size_t i = 0; i < rule.words.size(); ++i)
    words.push_back({{"word", rule.words[i]}, {"means", rule.words.data() == look_words ? look_meanings[i] : ""}});
  return {{"key", rule.key}, {"letter", rule.letter},   {"question", rule.question},
          {"value", value},  {"several", rule.several}, {"words", words}};
}

Json facts_json(const ResinRecord& record) {
  Json fields = Json::array();
  for (const auto& fact : fact_fields)
    if (is_asked_first(fact)) fields.push_back(field_json(fact, text_of(fact, fact.get(record))));
  return fields;
}

Json coupon_json(const ResinRecord& record, double exposure_s, bool open) {
  const Cells known = cells_at(record, exposure_s);
  Json fields = Json::array();
  for (const FieldRule& rule : asked_rules()) {
    if (std::string_view(rule.key) == table::coupon_exposure.key) continue;
    const auto cell = known.find(rule.key);
    Json field = field_json(rule, cell == known.end() ? "" : cell->second);
    field["hint"] = how_to_take(rule.letter, record.layer_height_mm);
    fields.push_back(std::move(field));
  }
  return {{"exposure_s", exposure_s}, {"file", coupon_file_name(exposure_s)}, {"open", open}, {"fields", fields}};
}

// The texts of a body, by name; what is no text is left out.
Cells texts_in(const std::string& body) {
  Cells texts;
  const Json object = object_in(body);
  for (const auto& [name, value] : object.items())
    if (value.is_string()) texts[name] = value.get<std::string>();
  return texts;
}

std::string text_at(const Cells& texts, const char* name) {
  const auto at = texts.find(name);
  return at == texts.end() ? std::string() : at->second;
}

// What is wrong with one answer, "" where nothing is.
std::string wrong_answer(const ResinRecord& record, const std::string& kind, const std::string& key,
                         const std::string& text) {
  if (kind == "guess") return guess_misfit(text);
  if (kind == "times") return times_misfit(text, coupon_for(record));
  for (const FieldRule& rule : asked_rules())
    if (kind == "reading" && key == rule.key) return answer_misfit(rule, text, record);
  for (const auto& fact : fact_fields) {
    if (kind != "fact" || key != fact.key || !is_asked_first(fact)) continue;
    const bool needed = std::string_view(fact.key) == "printer.pitch_mm";
    if (text.empty()) return needed ? "it is left out" : "";
    return misfit(as_coupon_takes(fact), text, record);
  }
  return "there is no such question";
}

Error wrong_field(const std::string& wrong, const char* question) {
  return {ErrorKind::invalid, "", fmt::format("{}: {}", question, wrong), "", "Correct it."};
}

Result<void> take_facts(ResinRecord& record, const Cells& cells) {
  for (const auto& fact : fact_fields) {
    const auto cell = cells.find(fact.key);
    if (!is_asked_first(fact) || cell == cells.end()) continue;
    const std::string wrong = wrong_answer(record, "fact", fact.key, cell->second);
    if (!wrong.empty()) return tl::unexpected(wrong_field(wrong, fact.question));
    fact.set(record, cell->second.empty() ? std::nullopt : value_from(fact, cell->second));
  }
  return {};
}

// What a person typed and the program does not take is an answer as any other: {"wrong": why}.
Answer not_taken(const Error& error) {
  if (error.kind != ErrorKind::invalid && error.kind != ErrorKind::usage) return refusal(error);
  return json_answer({{"wrong", to_paragraph(error)}});
}

Answer begin(Shared& shared, const Call& call) {
  ResinRecord facts;
  if (auto taken = take_facts(facts, texts_in(call.body)); !taken) return not_taken(taken.error());
  if (!facts.printer.pitch_mm) return not_taken(wrong_field("it is left out", "Pixel pitch, mm"));
  auto record = new_record(facts, shared.today());
  if (!record) return refusal(record.error());
  const auto place = shared.folder.place_for(record_file_name(facts.resin.label));
  if (!place) return refusal(place.error());
  const auto added = add_record(std::move(*record), *place);
  if (!added) return refusal(added.error());
  return json_answer({{"file", fs::path(added->record.file).filename().string()}});
}

// A record of the folder by the first name of the call, and the folder of its coupons.
struct Evening {
  ResinRecord record;
  fs::path coupons;
};
Result<Evening> evening_in(Shared& shared, const Call& call) {
  const auto path = shared.folder.record(call.names[0]);
  if (!path) return tl::unexpected(path.error());
  auto record = read_record(*path);
  if (!record) return tl::unexpected(record.error());
  auto coupons = coupons_of(shared.folder, *path);
  if (!coupons) return tl::unexpected(coupons.error());
  return Evening{std::move(*record), std::move(*coupons)};
}

Answer shown(const Result<Evening>& evening) {
  return evening ? json_answer(evening_of(evening->record, evening->coupons)) : refusal(evening.error());
}

Answer change_facts(Shared& shared, const Call& call) {
  auto evening = evening_in(shared, call);
  if (!evening) return refusal(evening.error());
  const Cells cells = texts_in(call.body);
  const auto change = [&](ResinRecord& record) -> Result<bool> {
    if (auto taken = take_facts(record, cells); !taken) return tl::unexpected(taken.error());
    return true;
  };
  const auto edited = edit_record(evening->record.file, change);
  if (!edited) return not_taken(edited.error());
  return shown(evening_in(shared, call));
}

Answer print_coupons(Shared& shared, const Call& call) {
  const auto evening = evening_in(shared, call);
  if (!evening) return refusal(evening.error());
  const std::string times = text_at(texts_in(call.body), "times");
  CouponSettings settings = coupon_for(evening->record);
  if (const std::string wrong = times_misfit(times, settings); !wrong.empty())
    return not_taken(wrong_field(wrong, "Times to print, s"));
  settings.exposures_s = times_from(times);
  const auto written = write_coupon(evening->coupons, settings);
  if (!written) return refusal(written.error());
  return shown(evening_in(shared, call));
}

Answer take_coupon(Shared& shared, const Call& call) {
  const auto evening = evening_in(shared, call);
  if (!evening) return refusal(evening.error());
  const ResinRecord& record = evening->record;
  Cells cells = texts_in(call.body);
  bool replace = cells.erase("replace") > 0;
  const std::string exposure = table::coupon_exposure.key;
  const Cells known = cells_at(record, typed_number(cells[exposure], table::coupon_exposure.range).value.value_or(0));
  std::erase_if(cells, [&](const auto& cell) {
    const auto there = known.find(cell.first);
    return cell.second.empty() || (cell.first != exposure && there != known.end() && there->second == cell.second);
  });
  for (const auto& cell : cells) replace = replace || (cell.first != exposure && known.count(cell.first) > 0);
  if (cells.size() < 2) return shown(evening);
  for (const FieldRule& rule : asked_rules())
    if (const auto cell = cells.find(rule.key); cell != cells.end())
      if (const std::string wrong = answer_misfit(rule, cell->second, record); !wrong.empty())
        return not_taken(wrong_field(wrong, rule.question));
  const auto readings = readings_from_options(cells, record.layer_height_mm);
  if (!readings) return not_taken(readings.error());
  const auto taken = take_readings(record.file, *readings, shared.today(), replace ? IfThere::replace : IfThere::keep);
  if (!taken) return not_taken(taken.error());
  Json answer = evening_of(taken->edited.record, evening->coupons);
  answer["changed"] = taken->changed;
  answer["kept"] = taken->kept;
  return json_answer(answer);
}

// For an evening of a record, or before there is one.
Answer check_answer(Shared& shared, const Call& call) {
  const Cells said = texts_in(call.body);
  const auto text = [&](const char* name) { return text_at(said, name); };
  ResinRecord record;
  if (const auto path = text("record").empty() ? Result<fs::path>() : shared.folder.record(text("record"));
      path && !path->empty())
    if (auto read = read_record(*path)) record = std::move(*read);
  const std::string wrong = wrong_answer(record, text("kind"), text("key"), text("text"));
  Json answer = {{"wrong", wrong}};
  if (text("kind") == "guess" && wrong.empty())
    answer["times"] = fmt::format("{}", fmt::join(times_around(text("text")), " "));
  return json_answer(answer);
}

Answer coupon_file(Shared& shared, const Call& call) {
  const auto evening = evening_in(shared, call);
  if (!evening) return refusal(evening.error());
  std::error_code error;
  for (fs::directory_iterator entry(evening->coupons, error), end; !error && entry != end; entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    if (name != call.names[1]) continue;
    auto text = read_text(entry->path());
    if (!text) return refusal(text.error());
    if (name == "coupon-sheet.html") return {.type = "text/html; charset=utf-8", .body = std::move(*text)};
    return {.type = "application/octet-stream", .body = std::move(*text), .file_name = name};
  }
  return refusal(404, "There is no such file among the coupons.");
}

}  // namespace

Result<fs::path> coupons_of(const Folder& folder, const fs::path& record) {
  return folder.own((fs::path("coupons") / record.stem()).string());
}

const char* evening_step(const ResinRecord& record, const fs::path& coupons) {
  const bool none = coupons_in(coupons).empty();
  if (none && !record.printer.pitch_mm) return "facts";
  if (none && record.fit) return "done";  // of another evening, or written by hand
  if (none && record.bracket.empty()) return "times";
  if (!coupons_to_read(coupons, record).empty()) return "readings";
  if (record.bracket.empty()) return record.fit ? "done" : "times";
  return fit_age(record) == FitAge::of_these_readings ? "done" : "fit";
}

Json evening_of(const ResinRecord& record, const fs::path& coupons) {
  const auto open = coupons_to_read(coupons, record), all = coupons_in(coupons);
  Json list = Json::array();
  for (const double exposure_s : all)
    list.push_back(coupon_json(record, exposure_s, std::find(open.begin(), open.end(), exposure_s) != open.end()));
  const auto use = time_to_use(record);
  const auto more = record.fit ? times_to_print(record) : std::vector<double>();
  return {{"file", fs::path(record.file).filename().string()},
          {"resin", record.resin.label},
          {"step", evening_step(record, coupons)},
          {"facts", facts_json(record)},
          {"coupons", list},
          {"cautions", std::string(coupon_cautions())},
          {"use_s", use ? Json(use->exposure_s) : Json()},
          {"more_times", fmt::format("{}", fmt::join(more, " "))}};
}

void add_evening_routes(Routes& routes, Shared& shared) {
  routes.push_back({"GET", "/api/evening", [](const Call&) {
                      return json_answer({{"step", "facts"},
                                          {"facts", facts_json({})},
                                          {"coupons", Json::array()},
                                          {"cautions", std::string(coupon_cautions())}});
                    }});
  routes.push_back(
      {"GET", "/api/records/{}/evening", [&shared](const Call& call) { return shown(evening_in(shared, call)); }});
  routes.push_back({"GET", "/api/records/{}/coupons/{}", with(shared, coupon_file)});
  routes.push_back({"POST", "/api/evening", with(shared, begin)});
  routes.push_back({"POST", "/api/evening/wrong", with(shared, check_answer)});
  routes.push_back({"POST", "/api/records/{}/facts", with(shared, change_facts)});
  routes.push_back({"POST", "/api/records/{}/coupons", with(shared, print_coupons), true});
  routes.push_back({"POST", "/api/records/{}/readings", with(shared, take_coupon)});
}

}  // namespace hairline::desk
