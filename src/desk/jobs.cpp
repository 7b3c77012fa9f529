#include "jobs.hpp"

#include "asks.hpp"
#include "checks.hpp"
#include "fragment.hpp"
#include "hairline/check.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

// Opened one at a time: what a hostile archive may take, it takes once.
class KnownJobs {
 public:
  explicit KnownJobs(Shared& shared) : shared_(shared) {}

  JobFacts facts(const std::string& name) {
    const std::string mark = mark_of_job(shared_.folder, name);
    const std::lock_guard lock(mutex_);
    JobFacts& known = by_name_[name];
    if (known.mark.empty() || known.mark != mark) known = opened(name, mark);
    return known;
  }

 private:
  JobFacts opened(const std::string& name, const std::string& mark) const {
    JobFacts facts;
    facts.mark = mark;
    const auto path = shared_.folder.job(name);
    const OpenOptions options = open_options_for(shared_.folder, name);
    facts.answered = options.description.has_value();
    if (valid_utf8(name) != name) {
      facts.error =
          Error{ErrorKind::invalid, name, "its name holds bytes that are no text", "a name in UTF-8", "Rename it."};
      return facts;
    }
    const auto archive = path ? Archive::open(*path, options) : tl::unexpected(path.error());
    if (!archive) {
      facts.asks = archive.error().kind == ErrorKind::usage;
      facts.error = archive.error();
      facts.error->file = name;
      return facts;
    }
    const JobSettings& job = archive->settings();
    facts.title = job.title;
    facts.resin = job.resin_label;
    facts.printer = job.printer_label;
    facts.layers = job.layer_count;
    facts.normal_s = job.normal_s;
    return facts;
  }

  Shared& shared_;
  std::mutex mutex_;
  std::map<std::string, JobFacts> by_name_;
};

// With what has changed since.
Json json_of_last(const Folder& folder, const LastCheck& last, const std::string& job_mark) {
  Json json = json_of(last);
  json["duration"] = duration_text(last.duration_s);
  Json& changed = json["changed"] = Json::array();
  if (last.job_mark != job_mark) changed.push_back("job");
  if (last.record_mark != mark_of_record(folder, last.asked.record)) changed.push_back("record");
  std::error_code none;
  const auto cache = folder.own("cache");
  json["thumbnail"] = cache && !last.looks.empty() && fs::exists(*cache / (last.looks + ".png"), none);
  return json;
}

Json json_of_job(const Shared& shared, const JobFacts& facts, const std::string& name) {
  const auto last = last_check(shared.folder, name);
  return {{"name", name},
          {"title", facts.title},
          {"error", facts.error ? Json(to_paragraph(*facts.error)) : Json()},
          {"asks", facts.asks},
          {"answered", facts.answered},
          {"resin", facts.resin},
          {"printer", facts.printer},
          {"layers", facts.layers},
          {"normal_s", facts.normal_s},
          {"last", last ? json_of_last(shared.folder, *last, facts.mark) : Json()}};
}

Answer list_answer(const Shared& shared, KnownJobs& known, const Checks& checks) {
  Json jobs = Json::array();
  for (const std::string& name : shared.folder.jobs()) jobs.push_back(json_of_job(shared, known.facts(name), name));
  const auto warning = shared.cache.warning();
  return json_answer({{"jobs", jobs},
                      {"checks", checks.states()},
                      {"now", shared.now()},
                      {"warning", warning ? Json(to_paragraph(*warning)) : Json()}});
}

Json json_of(const FoundRecord& found) {
  return {{"name", fs::path(found.file).filename().string()},
          {"resin", found.record.resin.label},
          {"printer", found.record.printer.label},
          {"error", found.problem ? Json(to_paragraph(*found.problem)) : Json()}};
}

// The record that fits, or why none does in the library's words.
void add_records(const Shared& shared, const JobFacts& facts, Json& job) {
  Json list = Json::array();
  const auto found = shared.folder.records().value_or(std::vector<FoundRecord>());
  for (const FoundRecord& one : found) list.push_back(json_of(one));
  job["records"] = list;
  JobSettings settings;
  settings.resin_label = facts.resin;
  settings.printer_label = facts.printer;
  const Records records{.choice = {.records = shared.folder.root().string()}, .found = found};
  const auto fitting = record_for(records, settings);
  job["fitting"] = fitting ? fs::path(fitting->file).filename().string() : "";
  job["fitting_why"] = fitting || list.empty() ? "" : to_paragraph(for_page(fitting.error()));
}

Answer job_answer(const Shared& shared, KnownJobs& known, const Checks& checks, const std::string& name) {
  if (const auto path = shared.folder.job(name); !path) return refusal(path.error());
  const JobFacts facts = known.facts(name);
  Json job = json_of_job(shared, facts, name);
  add_records(shared, facts, job);
  job["checks"] = checks.states();
  job["now"] = shared.now();
  return json_answer(job);
}

Answer part_answer(const Shared& shared, const std::string& name, const std::string& part, Answer answer) {
  const auto last = last_check(shared.folder, name);
  auto text = last ? kept_part(shared.folder, *last, part)
                   : tl::unexpected(Error{ErrorKind::not_found, name, "it has not been checked yet", "a checked job",
                                          "Check it."});
  if (!text && text.error().kind == ErrorKind::not_found)
    text = tl::unexpected(Error{ErrorKind::not_found, name, "its report is no longer at hand", "one that was kept",
                                "Check the job again."});
  if (!text) return refusal(text.error());
  answer.body = std::move(*text);
  return answer;
}

Answer thumbnail_answer(const Shared& shared, const std::string& name) {
  const auto last = last_check(shared.folder, name);
  const auto cache = shared.folder.own("cache");
  if (!last || last->looks.empty() || !cache) return refusal(404, "There is no picture of it yet.");
  auto picture = read_text(*cache / (last->looks + ".png"));
  if (!picture) return refusal(picture.error());
  return {.type = "image/png", .body = std::move(*picture)};
}

std::string report_name(const std::string& job) {
  return fs::path(job).stem().string() + ".json";
}

}  // namespace

void add_job_routes(Routes& routes, Shared& shared) {
  const auto known = std::make_shared<KnownJobs>(shared);
  const auto checks = std::make_shared<Checks>(shared);
  routes.push_back(
      {"GET", "/api/jobs", [&shared, known, checks](const Call&) { return list_answer(shared, *known, *checks); }});
  routes.push_back({"GET", "/api/jobs/{}", [&shared, known, checks](const Call& call) {
                      return job_answer(shared, *known, *checks, call.names[0]);
                    }});
  routes.push_back({"GET", "/api/jobs/{}/page", [&shared](const Call& call) {
                      return part_answer(shared, call.names[0], "page.html",
                                         {.type = "text/html; charset=utf-8", .body = {}});
                    }});
  routes.push_back({"GET", "/api/jobs/{}/report.json", [&shared](const Call& call) {
                      return part_answer(shared, call.names[0], "report.json",
                                         {.body = {}, .file_name = report_name(call.names[0])});
                    }});
  routes.push_back({"GET", "/api/jobs/{}/thumbnail.png",
                    [&shared](const Call& call) { return thumbnail_answer(shared, call.names[0]); }});
  add_check_routes(routes, shared, checks);
  add_upload_routes(routes, shared);
  add_ask_routes(routes, shared);
}

}  // namespace hairline::desk
