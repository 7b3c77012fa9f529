#include "night_outputs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

#include "../base/ascii.hpp"
#include "hairline/files.hpp"
#include "outputs.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

constexpr const char* page_name = "index.html";

std::string in(const std::string& folder, const std::string& name) {
  return folder.empty() ? std::string() : (fs::path(folder) / name).string();
}

// "queue.json", "queue.2-of-4.json"
std::string night_name(const std::optional<Shard>& shard) {
  return shard ? fmt::format("queue.{}-of-{}.json", shard->part, shard->of) : "queue.json";
}

// "hull.2", as the second row of a job "hull" is called.
bool names_a_row(const std::string& name) {
  const std::size_t digits = name.find_last_not_of("0123456789") + 1;
  return digits > 0 && digits < name.size() && name[digits - 1] == '.';
}

}  // namespace

void add_night_outputs(CLI::App& app, NightOutputs& outputs) {
  add_output(app, "--json", outputs.json_folder,
             "A folder for queue.json (formats/queue-report.md) and each job's report as JSON", "DIR");
  add_output(app, "--csv", outputs.csv, "Write the table of jobs as CSV; - is stdout");
  add_output(app, "--html", outputs.html_folder, "A folder for index.html, a page of the night, and each job's page",
             "DIR");
}

JobFiles::JobFiles(const NightOutputs& outputs, const Queue& queue) : outputs_(outputs) {
  const auto printers = static_cast<std::uint32_t>(std::max<std::size_t>(queue.printers.size(), 1));
  std::set<std::string> taken = {"index", "queue"};  // in small letters, for file systems that see no other
  const auto is_free = [&](const std::string& name) {
    return (printers == 1 || !names_a_row(name)) && taken.insert(small_letters(name)).second;
  };
  for (const QueueJob& job : queue.jobs) {
    const std::string stem = stem_of(job.file);
    std::string name = stem;
    for (std::uint32_t number = 2; !is_free(name); ++number) name = fmt::format("{}-{}", stem, number);
    names_.push_back(std::move(name));
    most_rows_.push_back(job.printer.empty() ? printers : 1);
  }
}

std::string JobFiles::name_of(std::size_t job, std::uint32_t row) const {
  return row == 0 ? names_[job] : fmt::format("{}.{}", names_[job], row + 1);
}

std::vector<std::string> JobFiles::paths() const {
  std::vector<std::string> paths;
  for (std::size_t job = 0; job < names_.size(); ++job)
    for (std::uint32_t row = 0; row < most_rows_[job]; ++row) {
      paths.push_back(in(outputs_.json_folder, name_of(job, row) + ".json"));
      paths.push_back(in(outputs_.html_folder, name_of(job, row) + ".html"));
    }
  return paths;
}

namespace {

// What is there already is left: a second look at a queue writes nothing.
Result<void> write_if_other(const std::string& path, const std::string& text) {
  if (path.empty()) return {};
  const auto there = read_text(path, text.size());
  return there && *there == text ? Result<void>() : write_text(path, text);
}

}  // namespace

Result<void> JobFiles::write(const CheckedRow& row) const {
  const std::string name = name_of(row.job, row.row);
  if (!outputs_.json_folder.empty())
    if (auto wrote = write_if_other(in(outputs_.json_folder, name + ".json"), to_json(row.report)); !wrote)
      return wrote;
  return write_if_other(in(outputs_.html_folder, name + ".html"), row.page);
}

void JobFiles::name(std::vector<QueueEntry>& entries) const {
  for (QueueEntry& entry : entries)
    for (std::uint32_t i = 0; i < entry.rows.size(); ++i) {
      QueueRow& row = entry.rows[i];
      if (row.error) continue;
      const std::string name = name_of(entry.place - 1, i);
      if (!outputs_.json_folder.empty()) row.report = name + ".json";
      if (!outputs_.html_folder.empty()) row.page = name + ".html";
    }
}

Result<void> settle_night(const NightOutputs& outputs, const std::optional<Shard>& shard, std::vector<std::string> more,
                          const std::vector<std::string>& inputs) {
  for (const std::string& folder : {outputs.json_folder, outputs.html_folder})
    if (!folder.empty())
      if (auto made = make_folder(folder); !made) return made;
  more.push_back(outputs.csv);
  more.push_back(in(outputs.json_folder, night_name(shard)));
  if (!shard) more.push_back(in(outputs.html_folder, page_name));
  std::erase(more, "");
  return try_outputs(more, inputs);
}

namespace {

Result<void> write_night(const CheckedQueue& night, const NightOutputs& outputs) {
  if (auto wrote = write_output(in(outputs.json_folder, night_name(night.shard)), to_json(night)); !wrote) return wrote;
  if (!outputs.csv.empty())
    if (auto wrote = write_output(outputs.csv, to_csv(night)); !wrote) return wrote;
  if (outputs.html_folder.empty() || night.shard) return {};
  return write_output(in(outputs.html_folder, page_name), show_html(night));
}

}  // namespace

int tell_night(const CheckedQueue& night, const NightOutputs& outputs, const Judging& judging, const Context& context) {
  if (auto wrote = write_night(night, outputs); !wrote) return fail(wrote.error());
  if (outputs.csv != "-")
    if (auto printed = print(show_terminal(say_queue(night), style_of(context.console))); !printed)
      return fail(printed.error());
  const QueueTotals totals = add_up(night);
  if (totals.not_checked > 0) return status_not_checked;
  const bool found = (totals.hold > 0 && judging.fails(Verdict::hold)) ||
                     (totals.caution > 0 && judging.fails(Verdict::caution)) ||
                     (totals.clear > 0 && judging.fails(Verdict::clear));
  return found ? status_found : status_fine;
}

}  // namespace hairline::cli
