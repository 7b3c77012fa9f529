// Which resin record a job is held against.
#include <filesystem>

#include "hairline/check.hpp"

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

}  // namespace

Result<Records> read_records(const RecordChoice& choice) {
  Records records{.choice = choice, .found = {}};
  const bool folder = is_folder(choice.record);
  if (folder) records.choice = {.records = choice.record};
  if (records.choice.records.empty())
    records.choice.records =
        std::filesystem::path(".").string();  // where none is named, the current folder is searched
  const bool file = !folder && (exists(choice.record) || choice.record.ends_with(".json") ||
                                std::filesystem::path(choice.record).has_parent_path());
  if (!file) {
    records.found = find_records(records.choice.records);
    return records;
  }
  auto named = with_fit(read_record(choice.record));
  if (!named) return tl::unexpected(named.error());
  records.named = std::move(*named);
  return records;
}

Result<ResinRecord> record_for(const Records& records, const JobSettings& job) {
  if (records.named) return *records.named;
  if (!records.found) return tl::unexpected(records.found.error());
  const RecordChoice& choice = records.choice;
  return with_fit(pick_record(choice.record, choice.records, *records.found, job.resin_label, job.printer_label));
}

}  // namespace hairline
