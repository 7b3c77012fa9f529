#include "found_job.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "../base/fingerprint.hpp"
#include "keys.hpp"
#include "printer_fit.hpp"

namespace hairline::queue {
namespace {

constexpr int fits = 3;
// 2: the job's pixels are those of the printer's record, but it is too large; 1: they are not. (0: there is no record.)
int fit_of(const QueuePrinter& printer, const ResinRecord* record, const JobSettings& job) {
  const auto found = misfit({.pitch = job.pitch,
                             .size_mm = {job.size.width_px * job.pitch.x_mm, job.size.height_px * job.pitch.y_mm},
                             .record_pitch_mm = record ? record->printer.pitch_mm : std::nullopt},
                            printer);
  return !found ? fits : found->why == LeftOut::too_large ? 2 : 1;
}

bool same(const PlannedRow& a, const PlannedRow& b) {
  if (a.error || b.error) return a.error && b.error && to_paragraph(*a.error) == to_paragraph(*b.error);
  return a.record == b.record;
}

}  // namespace

Result<Archive> open_job(const QueueJob& job, const OpenOptions& open) {
  if (!job.exposure_s) return Archive::open(job.file, open);
  OpenOptions own = open;
  std::erase_if(own.otherwise, [](const SettingValue& one) { return one.path == "exposure.normal_s"; });
  own.otherwise.push_back({"exposure.normal_s", fmt::format("{}", *job.exposure_s)});
  return Archive::open(job.file, own);
}

Result<FoundJob> find_job(const QueueJob& asked, const OpenOptions& open, ReportCache* cache) {
  const auto archive = open_job(asked, open);
  if (!archive) return tl::unexpected(archive.error());
  FoundJob job{archive->settings(), {}, archive->state_key()};
  const bool may_know = cache != nullptr && !job.state.empty();
  if (auto known = may_know ? cache->find("content of " + job.state) : std::nullopt) {
    job.content = std::move(*known);
    return job;
  }
  auto content = archive->content_key();
  if (!content) return tl::unexpected(content.error());
  job.content = std::move(*content);
  if (may_know) cache->keep("content of " + job.state, job.content);
  return job;
}

std::uint32_t share_of(const Result<FoundJob>& job, const std::string& file, std::uint32_t shares) {
  const std::string key = job ? job->content : fingerprint(std::filesystem::path(file).filename().string());
  return 1 + static_cast<std::uint32_t>(std::stoull(key.substr(0, 16), nullptr, 16) % shares);
}

QueueRecords::QueueRecords(const NightRequest& request) : request_(request) {
  if (request.measured_only) return;
  for (const QueuePrinter& printer : request.queue.printers) {
    if (records_.contains(printer.record)) continue;
    RecordChoice choice = request.record;
    if (!printer.record.empty()) choice.record = printer.record;
    records_.emplace(printer.record, read_records(choice));
  }
}

std::vector<std::uint32_t> QueueRecords::asked_for(const QueueJob& job) const {
  std::vector<std::uint32_t> asked;
  for (std::uint32_t i = 0; i < request_.queue.printers.size(); ++i)
    if (job.printer.empty() || request_.queue.printers[i].label == job.printer) asked.push_back(i);
  return asked;
}

// Depends on the job by its labels alone, so it is looked for once for all jobs of the same.
const Result<RecordPointer>& QueueRecords::record_of(std::uint32_t printer, const JobSettings& settings) {
  const std::string& named = request_.queue.printers[printer].record;
  const auto [at, is_new] = chosen_.try_emplace({named, settings.resin_label, settings.printer_label}, nullptr);
  if (!is_new || request_.measured_only) return at->second;
  const Result<Records>& records = records_.at(named);
  auto record = records ? record_for(*records, settings) : tl::unexpected(records.error());
  if (!record) return at->second = tl::unexpected(record.error());
  std::string key = record_key(*record);
  RecordPointer& known = known_[record->file + '\n' + key];
  if (!known) known = std::make_shared<const KnownRecord>(KnownRecord{std::move(*record), std::move(key)});
  return at->second = known;
}

std::vector<PlannedRow> QueueRecords::rows_for(const QueueJob& job, const JobSettings& settings) {
  std::vector<PlannedRow> rows;
  int best = 0;  // fit of the rows
  for (const std::uint32_t printer : asked_for(job)) {
    const Result<RecordPointer>& found = record_of(printer, settings);
    PlannedRow row{{printer}, found.value_or(nullptr), {}};
    if (!found) row.error = found.error();
    const ResinRecord* record = row.record ? &row.record->record : nullptr;
    const int fit = row.error ? 0 : fit_of(request_.queue.printers[printer], record, settings);
    if (fit > best) rows.clear(), best = fit;
    if (fit < best) continue;
    const auto like = std::find_if(rows.begin(), rows.end(), [&](const PlannedRow& one) { return same(one, row); });
    if (like != rows.end())
      like->printers.push_back(printer);
    else if (best == fits || rows.empty())
      rows.push_back(std::move(row));
  }
  if (!rows.empty()) return rows;
  return {{{},
           nullptr,
           Error{ErrorKind::usage, job.file, "the queue has no printer \"" + job.printer + "\"",
                 "the label of one of its printers", "Correct it."}}};
}

}  // namespace hairline::queue
