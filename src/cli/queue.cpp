// queue: a night's jobs, checked side by side and planned.
#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <set>

#include "hairline/night.hpp"
#include "hairline/record_edit.hpp"
#include "night_outputs.hpp"
#include "night_times.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

struct Options {
  std::vector<std::string> paths;
  RecordChoice record;
  Opening opening;
  Judging judging;
  NightTimes times;
  NightOutputs outputs;
  std::optional<Shard> shard;
  std::string cache;
  bool no_cache = false;
};

std::vector<std::string> inputs_of(const Options& options, const Queue& queue) {
  std::vector<std::string> inputs;
  for (const QueueJob& job : queue.jobs) inputs.push_back(job.file);
  inputs = files_read(std::move(inputs), options.opening, &options.record);
  for (const QueuePrinter& printer : queue.printers) {
    const RecordChoice choice{.record = printer.record};
    if (!printer.record.empty()) inputs = files_read(std::move(inputs), options.opening, &choice);
  }
  std::error_code error;
  for (const std::string& path : options.paths)  // lists; folders hold the jobs, and may hold their reports
    if (!fs::is_directory(path, error)) inputs.push_back(path);
  return inputs;
}

ReportCache open_cache(const Options& options) {
  const fs::path folder = options.cache.empty() ? user_cache() : fs::path(options.cache);
  return options.no_cache || folder.empty() ? ReportCache() : ReportCache::open(folder);
}

Result<void> check_call(const Options& options) {
  if (options.paths.empty())
    return tl::unexpected(usage("no job is named", "folders of layer archives, archives, lists or queue files",
                                "Name them, or see `hairline queue --help`."));
  if (options.shard && options.outputs.json_folder.empty())
    return tl::unexpected(usage("--shard needs a folder for its results", "--json DIR",
                                "Give all shares one folder; `hairline queue merge DIR` makes one table of them."));
  return {};
}

Result<NightRequest> request_of(const Options& options, Queue queue, const Context& context) {
  auto open = open_options(options.opening, options.judging.settings.exposure_s, context.command);
  if (!open) return tl::unexpected(open.error());
  NightRequest request{.queue = std::move(queue),
                       .open = std::move(*open),
                       .record = options.record,
                       .settings = options.judging.settings,
                       .shard = options.shard,
                       .pages = !options.outputs.html_folder.empty()};
  request.settings.tonight.today = date_or_today(request.settings.tonight.today);
  return request;
}

void note_uses(const std::vector<QueueEntry>& entries, const std::string& today) {
  std::set<std::string> records;
  for (const QueueEntry& entry : entries)
    for (const QueueRow& row : entry.rows)
      if (!row.error) records.insert(row.record.file);
  for (const std::string& record : records) note_use(user_uses(), record, today);
}

Result<CheckedQueue> check_night(const NightRequest& request, const JobFiles& files, const Context& context) {
  RowSink sink;
  if (files.wanted()) sink = [&files](const CheckedRow& row) { return files.write(row); };
  auto entries = with_bar(context, "queue", [&] { return check_queue(request, context.progress, sink); });
  if (!entries) return tl::unexpected(entries.error());
  note_uses(*entries, request.settings.tonight.today);
  files.name(*entries);
  CheckedQueue night{.times = request.queue.times,
                     .printers = request.queue.printers,
                     .entries = std::move(*entries),
                     .jobs_in_all = static_cast<std::uint32_t>(request.queue.jobs.size()),
                     .shard = request.shard};
  if (night.shard) return night;
  auto plan = plan_night(night.times, night.printers, night.entries);
  if (!plan) return tl::unexpected(plan.error());
  night.plan = std::move(*plan);
  return night;
}

// Before a thousand jobs each say so: a record that was named is not there, or there is none for any printer.
Result<void> check_record(const Options& options, const Queue& queue) {
  const auto without = std::count_if(queue.printers.begin(), queue.printers.end(),
                                     [](const QueuePrinter& printer) { return printer.record.empty(); });
  const bool named = !options.record.record.empty() || !options.record.records.empty();
  if (without == 0 || (!named && without < std::ssize(queue.printers))) return {};
  const auto records = read_records(options.record, options.paths);
  return records ? Result<void>() : tl::unexpected(records.error());
}

int run(const Options& options, const Context& context) {
  if (auto fits = check_call(options); !fits) return fail(fits.error());
  auto queue = find_queue(options.paths);
  if (!queue) return fail(queue.error());
  if (auto settled = settle_times(options.times, options.judging.settings.tonight.today, queue->times); !settled)
    return fail(settled.error());
  if (auto there = check_record(options, *queue); !there) return fail(there.error());
  const JobFiles files(options.outputs, *queue);
  if (auto free = settle_night(options.outputs, options.shard, files.paths(), inputs_of(options, *queue)); !free)
    return fail(free.error());
  auto request = request_of(options, std::move(*queue), context);
  if (!request) return fail(request.error());
  ReportCache cache = open_cache(options);
  request->cache = &cache;
  const auto night = check_night(*request, files, context);
  if (const auto warning = cache.warning()) complain(*warning);
  return night ? tell_night(*night, options.outputs, options.judging, context) : fail(night.error());
}

Result<Shard> parse_shard(const std::string& text) {
  std::uint32_t part = 0, of = 0;
  const char* const end = text.data() + text.size();
  const auto first = std::from_chars(text.data(), end, part);
  const bool slash = first.ec == std::errc() && first.ptr != end && *first.ptr == '/';
  const auto second = slash ? std::from_chars(first.ptr + 1, end, of) : first;
  if (slash && second.ec == std::errc() && second.ptr == end && part >= 1 && part <= of && of <= most_shards)
    return Shard{part, of};
  return tl::unexpected(
      usage(fmt::format("\"{}\" is no share", text), "I/N from 1/1 to N/N, as 2/4", "Number the shares from 1."));
}

void add_memory_of_checks(CLI::App& app, Options& options) {
  add_output(app, "--cache", options.cache,
             "Folder in which results are kept (default: hairline in the user's cache folder)", "DIR")
      ->envname("HAIRLINE_CACHE");
  app.add_flag("--no-cache", options.no_cache, "Check all anew and keep nothing");
}

}  // namespace

void add_queue(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "queue", "Check a night's jobs: which may start, where, and when they are done",
                                  "  hairline queue tonight --record harbour-grey.json\n"
                                  "  hairline queue tonight --records records --start 22:00 --ready-by 07:30\n"
                                  "  hairline queue tonight.json --html night\n"
                                  "  hairline queue tonight --record harbour-grey.json --shard 1/4 --json night");
  Options& options = options_of(command, context, run);
  command
      .add_option(
          "path", options.paths,
          "Folders of layer archives, layer archives, queue files (formats/print-queue.md), or lists (.txt, one "
          "path per line)")
      ->type_name("PATH");
  add_opening(command, options.opening);
  add_record_choice(command, options.record);
  add_night_times(command, options.times);
  add_night_outputs(command, options.outputs);
  add_parsed(command, "--shard", options.shard, parse_shard, "I/N",
             "Check the I-th of N shares only (docs/many-machines.md)");
  add_memory_of_checks(command, options);
  add_judging(command, options.judging);
  add_queue_merge(command, context);
}

}  // namespace hairline::cli
