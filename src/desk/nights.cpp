// Tonight: the queue of the night, what is known of its jobs, and the plan that follows.
#include "fragment.hpp"
#include "hairline/files.hpp"
#include "json.hpp"
#include "night_checks.hpp"
#include "night_file.hpp"

namespace hairline::desk {
namespace {

// The part of the night that is known, planned.
Result<CheckedQueue> planned(const Queue& queue, const NightChecks::Seen& seen) {
  CheckedQueue night{
      .times = queue.times, .printers = queue.printers, .jobs_in_all = static_cast<std::uint32_t>(queue.jobs.size())};
  for (const auto& entry : seen.entries)
    if (entry) night.entries.push_back(*entry);
  auto plan = plan_night(night.times, night.printers, night.entries);
  if (!plan) return tl::unexpected(plan.error());
  night.plan = std::move(*plan);
  return night;
}

// The same with the names that the page has.
CheckedQueue with_names(const Folder& folder, CheckedQueue night) {
  const auto shorten = [&](std::string& path) {
    if (!path.empty()) path = shown_name(folder, path);
  };
  for (QueueEntry& entry : night.entries) {
    shorten(entry.job.file);
    for (QueueRow& row : entry.rows) {
      shorten(row.record.file);
      if (row.error) row.error = for_page(*row.error);
    }
  }
  return night;
}

Json time_json(const std::optional<LocalTime>& time) {
  return time ? Json(to_string(*time)) : Json();
}

Json printer_json(const Folder& folder, const QueuePrinter& printer) {
  return {{"label", printer.label},
          {"record", printer.record.empty() ? Json() : Json(shown_name(folder, printer.record))},
          {"resin_ml", or_null(printer.resin_ml)},
          {"vat_ml", or_null(printer.vat_ml)},
          {"plate_mm", or_null(printer.plate_mm)},
          {"changeover_min", printer.changeover_min}};
}

// As formats/print-queue.md, with names: what the page sends back.
Json queue_json(const Folder& folder, const Queue& queue) {
  Json json = {{"format", "print-queue"},
               {"version", 1},
               {"start", time_json(queue.times.start)},
               {"ready_by", time_json(queue.times.ready_by)},
               {"zone", queue.times.zone},
               {"printers", Json::array()},
               {"jobs", Json::array()}};
  for (const QueuePrinter& printer : queue.printers)
    if (!printer.label.empty()) json["printers"].push_back(printer_json(folder, printer));
  for (const QueueJob& job : queue.jobs)
    json["jobs"].push_back({{"file", shown_name(folder, job.file)},
                            {"printer", job.printer},
                            {"exposure_s", or_null(job.exposure_s)},
                            {"copies", job.copies}});
  return json;
}

Json job_json(const QueueEntry& entry, const SaidJob& said) {
  const QueueRow& row = entry.rows[said.row];
  return {{"verdict", row.error ? "broken" : to_string(row.verdict)},
          {"said", fragment_of(said.said)},
          {"exposure_s", row.error ? Json() : Json(row.exposure_s)},
          {"set_s", or_null(said.set_s)},
          {"set_text", said.set_text}};
}

// Null for a job that is not known yet.
Json jobs_json(const NightChecks::Seen& seen, const CheckedQueue& night, const SaidNight& said) {
  Json json = Json::array();
  std::size_t known = 0;
  for (const auto& entry : seen.entries) {
    json.push_back(entry ? job_json(night.entries[known], said.jobs[known]) : Json());
    known += entry.has_value();
  }
  return json;
}

Json running_json(const std::optional<NightChecks::Running>& running) {
  if (!running) return {};
  return {{"job", running->job}, {"done", running->done}, {"total", running->total}};
}

Json choices_json(const Folder& folder) {
  Json json = {{"jobs", Json::array()}, {"records", Json::array()}};
  for (const std::string& name : folder.jobs())
    if (name == valid_utf8(name)) json["jobs"].push_back(name);  // others cannot stand in a queue file
  for (const FoundRecord& one : folder.records().value_or(std::vector<FoundRecord>()))
    if (!one.problem) json["records"].push_back(shown_name(folder, one.file));
  return json;
}

class Tonight {
 public:
  explicit Tonight(Shared& shared) : shared_(shared), checks_(shared) {}

  Answer show() { return answered(read_night(shared_.folder)); }
  Answer change(const Call& call) {
    const auto changed = change_night(shared_.folder, call.asked("version"), call.body);
    if (!changed && changed.error().kind == ErrorKind::invalid)  // typed wrong: no failed request
      return json_answer({{"refused", to_paragraph(changed.error())}});
    return answered(changed);
  }
  Answer again() {
    checks_.again();
    return show();
  }
  Answer stop() {
    checks_.stop();
    return show();
  }
  Answer download() {
    const auto file = read_night(shared_.folder);
    if (!file) return refusal(file.error());
    const auto seen = checks_.see(file->queue);
    if (seen.waiting > 0) return refusal(409, "Not all jobs of the night are checked yet.");
    const auto night = planned(file->queue, seen);
    if (!night) return refusal(night.error());
    return {.body = to_json(*night), .file_name = "queue.json"};
  }

 private:
  Answer answered(const Result<NightFile>& file) {
    if (!file) return refusal(file.error());
    const Folder& folder = shared_.folder;
    const auto seen = checks_.see(file->queue);
    auto planned_night = planned(file->queue, seen);
    if (!planned_night) return refusal(planned_night.error());
    const CheckedQueue night = with_names(folder, std::move(*planned_night));
    const SaidNight said = say_by_job(night);
    const Json json = {{"version", file->version},
                       {"queue", queue_json(folder, file->queue)},
                       {"jobs", jobs_json(seen, night, said)},
                       {"first", fragment_of(said.first)},
                       {"timelines", night.plan.prints.empty() ? "" : show_timelines(night)},
                       {"records", fragment_of(said.records)},
                       {"running", running_json(seen.running)},
                       {"waiting", seen.waiting},
                       {"busy", seen.busy},
                       {"stopped", seen.stopped},
                       {"choices", choices_json(folder)}};
    return json_answer(json);
  }

  Shared& shared_;
  NightChecks checks_;
};

}  // namespace

void add_night_routes(Routes& routes, Shared& shared) {
  const auto tonight = std::make_shared<Tonight>(shared);
  routes.push_back({"GET", "/api/night", [tonight](const Call&) { return tonight->show(); }});
  routes.push_back({"POST", "/api/night", [tonight](const Call& call) { return tonight->change(call); }});
  routes.push_back({"POST", "/api/night/look", [tonight](const Call&) { return tonight->again(); }});
  routes.push_back({"POST", "/api/night/stop", [tonight](const Call&) { return tonight->stop(); }});
  routes.push_back({"GET", "/api/night/queue.json", [tonight](const Call&) { return tonight->download(); }});
}

}  // namespace hairline::desk
