// After the print: what was lost of what was said, and the history of a job.
#include <algorithm>
#include <limits>
#include <unordered_map>

#include "asks.hpp"
#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "hairline/report.hpp"
#include "history.hpp"
#include "last_check.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t most_note_bytes = 2000, most_others = 50;
constexpr const char* no_answer = "That is no answer to what came out.";

Error no_check(const std::string& job) {
  return {ErrorKind::not_found, job, "it was not checked with a record", "a check with one",
          "Check it so, and what came out can be held against what was said."};
}

// The report of the last check; its id in `check`.
Result<Report> last_report(const Folder& folder, const std::string& job, std::string& check) {
  const auto known = folder.job(job);
  if (!known) return tl::unexpected(known.error());
  const auto last = last_check(folder, job);
  const auto text = last ? kept_part(folder, *last, "report.json") : tl::unexpected(no_check(job));
  if (!text) return tl::unexpected(no_check(job));
  check = last->id;
  auto report = parse_report(*text, job);
  if (report && !report->record) return tl::unexpected(no_check(job));
  return report;
}

// With nothing in it that leads to a place of this machine.
Outcome outcome_for(const Report& report, const std::string& job, const std::string& content, LocalTime at) {
  Outcome outcome = outcome_of(report, content, at);
  outcome.job.file = job;
  outcome.record.file = fs::path(outcome.record.file).filename().string();
  return outcome;
}

using PredictionById = std::unordered_map<std::uint32_t, const Prediction*>;

Json group_json(const PredictionById& by_id, const DetailGroup& group) {
  Json details = Json::array();
  for (const std::uint32_t id : group.ids) details.push_back({{"id", id}, {"name", by_id.at(id)->name}});
  const Prediction& first = *by_id.at(group.ids.front());
  return {{"details", details},
          {"fate", to_string(first.fate)},
          {"will", first.state == State::will},
          {"chance", first.chance}};
}

Answer form_of(Shared& shared, const Call& call) {
  const std::string& job = call.names[0];
  std::string check;
  const auto report = last_report(shared.folder, job, check);
  if (!report && !shared.folder.job(job)) return refusal(report.error());
  if (!report) return json_answer({{"not_yet", to_paragraph(report.error())}});
  const Outcome outcome = outcome_for(*report, job, "", {});
  std::vector<Detail> lost;
  std::copy_if(report->details.begin(), report->details.end(), std::back_inserter(lost),
               [](const Detail& one) { return one.lost; });
  PredictionById by_id;
  for (const Prediction& one : outcome.predictions) by_id.emplace(one.id, &one);
  Json groups = Json::array();
  for (const DetailGroup& group : group_alike(lost, report->job.pitch)) groups.push_back(group_json(by_id, group));
  return json_answer({{"job", job},
                      {"check", check},
                      {"exposure_s", report->exposure_s},
                      {"record", outcome.record.file},
                      {"verdict", to_string(report->verdict)},
                      {"now", shared.now()},
                      {"groups", groups}});
}

std::optional<Fate> fate_in(const Json& json) {
  if (json == "vanish") return Fate::vanish;
  if (json == "fuse") return Fate::fuse;
  return {};
}

std::string note_in(const Json& object) {
  const Json note = object.value("note", Json());
  return note.is_string() ? beginning_of(note.get<std::string>(), most_note_bytes) : "";
}

bool flag_in(const Json& object, const char* name) {
  return object.value(name, Json()) == true;
}

// False where the answers are not of their kind.
bool take_answers(Outcome& outcome, const Json& said) {
  const Json others = said.value("others", Json::array()), lost = said.value("lost", Json::array());
  if (!others.is_array() || !lost.is_array() || others.size() > most_others) return false;
  for (const Json& other : others) {
    const auto fate = other.is_object() ? fate_in(other.value("fate", Json())) : std::nullopt;
    if (!fate) return false;
    outcome.others.push_back({*fate, note_in(other)});
  }
  std::vector<std::uint32_t> ids;
  for (const Json& id : lost) {
    if (!id.is_number_unsigned() || id > std::numeric_limits<std::uint32_t>::max()) return false;
    ids.push_back(id.get<std::uint32_t>());
  }
  outcome.note = note_in(said);
  flag_in(said, "came_off") ? answer_came_off(outcome) : answer(outcome, ids, !flag_in(said, "rest_not_looked_at"));
  return true;
}

// Empty where the job cannot be read any more.
std::string content_of(const Folder& folder, const std::string& job) {
  const auto path = folder.job(job);
  const auto archive = path ? Archive::open(*path, open_options_for(folder, job)) : tl::unexpected(path.error());
  const auto content = archive ? archive->content_key() : tl::unexpected(archive.error());
  return content.value_or("");
}

// In a file of its own, or instead of one that is there.
Result<fs::path> keep(const Folder& folder, const Outcome& outcome, const Json& instead_of) {
  const auto found = outcomes_in(folder);
  if (!found) return tl::unexpected(found.error());
  for (const FoundOutcome& one : *found) {
    const fs::path path = one.file;
    if (instead_of != path.filename().string()) continue;
    const auto written = write_text(path, to_json(outcome));
    return written ? Result<fs::path>(path) : tl::unexpected(written.error());
  }
  const auto own = folder.own("outcomes");
  return own ? add_outcome(outcome, *own) : own;
}

Answer keep_outcome(Shared& shared, const Call& call) {
  const std::string& job = call.names[0];
  std::string check;
  const auto report = last_report(shared.folder, job, check);
  if (!report) return refusal(report.error());
  const Json said = json_in(call.body);
  if (!said.is_object()) return refusal(400, no_answer);
  if (said.value("check", Json(check)) != check)  // another page, or desk
    return refusal(Error{ErrorKind::mismatch, job, "it was checked again meanwhile",
                         "what came out, held against that check", "Open the page of the job again."});
  const Json printed_on = said.value("printed_on", Json());
  const auto typed = parse_local_time(printed_on.is_string() ? printed_on.get<std::string>() : shared.now());
  if (!typed) return refusal(typed.error());
  Outcome outcome = outcome_for(*report, job, content_of(shared.folder, job), *typed);
  if (!take_answers(outcome, said)) return refusal(400, no_answer);
  const auto kept = keep(shared.folder, outcome, said.value("instead_of", Json()));
  if (!kept) return refusal(kept.error());
  return json_answer({{"file", kept->filename().string()}, {"record", outcome.record.file}});
}

Answer history_of(Shared& shared, const Call& call) {
  const auto found = outcomes_in(shared.folder);
  if (!found) return refusal(found.error());
  Json rows = Json::array();
  for (const FoundOutcome& one : *found)
    if (!one.problem && one.outcome.job.file == call.names[0]) rows.push_back(row_of(one));
  return json_answer({{"prints", rows}});
}

}  // namespace

Result<std::vector<FoundOutcome>> outcomes_in(const Folder& folder) {
  const auto own = folder.own("outcomes");
  auto found = own ? find_outcomes(*own) : tl::unexpected(own.error());
  if (found) std::reverse(found->begin(), found->end());
  return found;
}

std::vector<Outcome> sound_ones(const std::vector<FoundOutcome>& found) {
  std::vector<Outcome> sound;
  for (const FoundOutcome& one : found)
    if (!one.problem) sound.push_back(one.outcome);
  return sound;
}

Json row_of(const FoundOutcome& found) {
  if (found.problem)
    return {{"file", fs::path(found.file).filename().string()}, {"problem", to_paragraph(*found.problem)}};
  const Outcome& outcome = found.outcome;
  Json lost = Json::array(), others = Json::array();
  std::uint32_t looked_at = 0;
  for (const Prediction& one : outcome.predictions) {
    looked_at += one.seen ? 1 : 0;
    if (one.seen.value_or(false)) lost.push_back({{"fate", to_string(one.fate)}, {"name", one.name}});
  }
  for (const OtherLoss& other : outcome.others)
    others.push_back({{"fate", to_string(other.fate)}, {"note", other.note}});
  return {{"file", fs::path(found.file).filename().string()},
          {"job", outcome.job.file},
          {"printed_on", to_string(outcome.printed_on)},
          {"exposure_s", outcome.exposure_s},
          {"record", outcome.record.file},
          {"verdict", to_string(outcome.verdict)},
          {"came_off", outcome.came_off},
          {"fine", outcome.fine},
          {"said", outcome.predictions.size()},
          {"looked_at", looked_at},
          {"lost", lost},
          {"others", others},
          {"note", outcome.note}};
}

void add_outcome_routes(Routes& routes, Shared& shared) {
  routes.push_back({"GET", "/api/jobs/{}/outcome", with(shared, form_of)});
  routes.push_back({"POST", "/api/jobs/{}/outcome", with(shared, keep_outcome), true});
  routes.push_back({"GET", "/api/jobs/{}/history", with(shared, history_of)});
}

}  // namespace hairline::desk
