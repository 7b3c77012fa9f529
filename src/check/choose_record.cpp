// Which resin record a job is held against.
#include <fmt/format.h>

#include <filesystem>

#include "hairline/check.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

bool is_folder(const std::string& path) {
  std::error_code error;
  return std::filesystem::is_directory(path, error);
}

bool exists(const std::string& path) {
  std::error_code error;
  return !path.empty() && std::filesystem::exists(path, error);
}

Result<ResinRecord> with_fit(Result<ResinRecord> record) {
  if (!record) return record;
  if (auto fit = fitted_model(*record); !fit) return tl::unexpected(fit.error());
  return record;
}

// There is none where it was looked for; perhaps beside the jobs.
Error no_record(const std::filesystem::path& folder, const std::vector<std::string>& paths) {
  Error error = pick_record({}, folder, {}, {}, {}).error();
  for (const std::filesystem::path path : paths) {
    for (const std::filesystem::path& beside : {path, path.parent_path()}) {
      const auto found = find_records(beside);
      if (!found || found->empty()) continue;
      error.advice = fmt::format("Add --records {}: there {}.", shell_word(beside.string()),
                                 found->size() == 1 ? "is one" : fmt::format("are {}", found->size()));
      return error;
    }
  }
  return error;
}

}  // namespace

Result<Records> read_records(const RecordChoice& choice, const std::vector<std::string>& paths) {
  Records records{.choice = choice};
  const bool folder = is_folder(choice.record);
  if (folder) records.choice = {.records = choice.record};
  if (records.choice.records.empty())
    records.choice.records =
        std::filesystem::path(".").string();  // where none is named, the current folder is searched
  const bool file = !folder && (exists(choice.record) || choice.record.ends_with(".json") ||
                                std::filesystem::path(choice.record).has_parent_path());
  if (!file) {
    auto found = find_records(records.choice.records);
    if (!found) return tl::unexpected(std::move(found.error()));
    if (found->empty()) return tl::unexpected(no_record(records.choice.records, paths));
    records.found = std::move(*found);
    return records;
  }
  auto named = with_fit(read_record(choice.record));
  if (!named) return tl::unexpected(named.error());
  records.named = std::move(*named);
  return records;
}

Result<ResinRecord> record_for(const Records& records, const JobSettings& job) {
  if (records.named) return *records.named;
  const RecordChoice& choice = records.choice;
  return with_fit(pick_record(choice.record, choice.records, records.found, job.resin_label, job.printer_label));
}

}  // namespace hairline
