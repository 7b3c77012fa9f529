#include "last_check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "../base/fingerprint.hpp"
#include "../base/numbers.hpp"
#include "asks.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

Json json_of(const std::optional<LostAt>& lost) {
  if (!lost) return {};
  return {
      {"exposure_s", lost->exposure_s}, {"verdict", lost->verdict}, {"text", lost->text}, {"harm_mm", lost->harm_mm}};
}

// These throw nlohmann's exceptions, which `last_check` takes.
std::optional<LostAt> lost_in(const Json& json) {
  if (json.is_null()) return {};
  return LostAt{json.at("exposure_s"), json.at("verdict"), json.at("text"), json.at("harm_mm")};
}

LastCheck check_in(const Json& json) {
  LastCheck check;
  const Json& asked = json.at("asked");
  check.asked.record = asked.at("record");
  if (!asked.at("exposure_s").is_null()) check.asked.exposure_s = asked.at("exposure_s").get<double>();
  const std::pair<const char*, std::string*> texts[] = {{"id", &check.id},
                                                        {"at", &check.at},
                                                        {"job_mark", &check.job_mark},
                                                        {"record_mark", &check.record_mark},
                                                        {"looks", &check.looks},
                                                        {"title", &check.title},
                                                        {"verdict", &check.verdict},
                                                        {"sentence", &check.sentence},
                                                        {"time_text", &check.time_text}};
  for (const auto& [name, text] : texts) *text = json.at(name).get<std::string>();
  check.duration_s = json.at("duration_s");
  check.resin_ml = json.at("resin_ml");
  check.exposure_s = json.at("exposure_s");
  check.rows_s = json.at("rows_s").get<std::vector<double>>();
  check.now = lost_in(json.at("now"));
  check.then = lost_in(json.at("then"));
  check.before = lost_in(json.at("before"));
  return check;
}

bool is_key(const std::string& text) {
  return text.size() == 32 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

bool is_sound(const LastCheck& check) {
  const bool known = check.verdict == "clear" || check.verdict == "caution" || check.verdict == "hold";
  return known && is_key(check.id) && (check.looks.empty() || is_key(check.looks));
}

Result<fs::path> part_file(const Folder& folder, const LastCheck& check, const std::string& part) {
  const auto own = folder.own("cache");
  if (!own) return own;
  return *own / (check.id + "." + part);
}

LostAt lost_at(const SweepPoint& point) {
  return {.exposure_s = point.exposure_s, .verdict = {}, .text = lost_text(point), .harm_mm = point.expected_mm};
}

// Looked at, not looked up: a list of many jobs asks this of each.
bool is_one_name(const std::string& name) {
  return !name.empty() && name != "." && name != ".." && name.find('/') == std::string::npos;
}

std::string mark_of_file(const fs::path& path) {
  std::error_code error;
  const auto size = fs::is_regular_file(path, error) ? fs::file_size(path, error) : 0;
  const auto written = fs::last_write_time(path, error);
  return error ? "" : fmt::format("{} {}", size, written.time_since_epoch().count());
}

}  // namespace

LastCheck summary_of(const Report& report) {
  LastCheck check;
  check.title = report.job.title;
  check.verdict = to_string(report.verdict);
  check.sentence = verdict_sentence(report);
  check.time_text = report.record ? time_text(report) : "";
  check.duration_s = report.job.duration_s;
  check.resin_ml = report.job.resin_ml;
  check.exposure_s = report.exposure_s;
  if (!report.suggestion) return check;
  for (const SweepPoint& row : report.suggestion->sweep) check.rows_s.push_back(six_digits(row.exposure_s));
  check.now = lost_at(report.suggestion->now);
  check.now->verdict = check.verdict;
  if (report.suggestion->action == Action::change) check.then = lost_at(report.suggestion->then);
  return check;
}

Json json_of(const LastCheck& check) {
  return {{"asked", {{"record", check.asked.record}, {"exposure_s", or_null(check.asked.exposure_s)}}},
          {"id", check.id},
          {"at", check.at},
          {"job_mark", check.job_mark},
          {"record_mark", check.record_mark},
          {"looks", check.looks},
          {"title", check.title},
          {"verdict", check.verdict},
          {"sentence", check.sentence},
          {"time_text", check.time_text},
          {"duration_s", check.duration_s},
          {"resin_ml", check.resin_ml},
          {"exposure_s", check.exposure_s},
          {"rows_s", check.rows_s},
          {"now", json_of(check.now)},
          {"then", json_of(check.then)},
          {"before", json_of(check.before)}};
}

std::optional<LastCheck> last_check(const Folder& folder, const std::string& job) {
  const auto file = folder.own_file("checks", job);
  const auto text = file ? read_text(*file, 1u << 20) : tl::unexpected(file.error());
  if (!text) return {};
  try {
    LastCheck check = check_in(json_in(*text));
    check.asked.job = job;
    if (is_sound(check)) return check;
  } catch (const nlohmann::json::exception&) {
  }
  return {};
}

Result<void> keep_check(const Folder& folder, const LastCheck& check, const std::string& page, const Report& report) {
  const auto file = folder.own_file("checks", check.asked.job), page_file = part_file(folder, check, "page.html"),
             report_file = part_file(folder, check, "report.json");
  for (const auto* path : {&file, &page_file, &report_file})
    if (!*path) return tl::unexpected(path->error());
  const auto old = last_check(folder, check.asked.job);
  if (auto wrote = write_text(*page_file, page); !wrote) return wrote;
  if (auto wrote = write_text(*report_file, [&](const TextSink& sink) { write_json(report, sink); }); !wrote)
    return wrote;
  if (auto wrote = write_text(*file, json_text(json_of(check)) + "\n"); !wrote) return wrote;
  std::error_code ignored;
  for (const char* part : {"page.html", "report.json"})
    if (const auto gone = old ? part_file(folder, *old, part) : file; old && gone && old->id != check.id)
      fs::remove(*gone, ignored);
  return {};
}

Result<std::string> kept_part(const Folder& folder, const LastCheck& check, const std::string& part) {
  const auto file = part_file(folder, check, part);
  if (!file) return tl::unexpected(file.error());
  return read_text(*file, std::uint64_t{1} << 30);
}

std::string mark_of_job(const Folder& folder, const std::string& job) {
  if (!is_one_name(job)) return {};
  const fs::path path = folder.root() / job;
  std::string text = mark_of_file(path);
  if (const auto answers = answers_file(folder, job)) text += fmt::format("\n{}", mark_of_file(*answers));
  std::vector<std::string> inside;
  std::error_code error;
  if (fs::is_directory(path, error))
    for (fs::recursive_directory_iterator entry(path, error), end; !error && entry != end; entry.increment(error))
      inside.push_back(fmt::format("{} {}", entry->path().string(), mark_of_file(entry->path())));
  std::sort(inside.begin(), inside.end());
  return fingerprint(fmt::format("{}\n{}", text, fmt::join(inside, "\n")));
}

std::string mark_of_record(const Folder& folder, const std::string& record) {
  if (!is_one_name(record)) return {};
  const auto text = read_text(folder.root() / record, 4u << 20);
  return text ? fingerprint(*text) : "";
}

}  // namespace hairline::desk
