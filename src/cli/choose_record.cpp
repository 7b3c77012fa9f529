#include "choose_record.hpp"

#include <filesystem>

#include "hairline/records.hpp"

namespace hairline::cli {
namespace {

bool is_folder(const std::string& path) {
  std::error_code error;
  return std::filesystem::is_directory(path, error);
}

Result<ResinRecord> with_fit(Result<ResinRecord> record) {
  if (!record) return record;
  if (auto fit = fitted_model(*record); !fit) return tl::unexpected(fit.error());
  return record;
}

}  // namespace

Result<Records> read_records(const RecordChoice& choice) {
  if (choice.record.empty() && choice.records.empty())
    return tl::unexpected(
        Error{.kind = ErrorKind::usage,
              .file = {},
              .layer = {},
              .found = "no resin record was named",
              .expected = "--record FILE, or --records DIR with a folder of them",
              .advice = "Without a record, `hairline measure` still finds islands, base and thin places."});
  Records records{.named = {}, .choice = choice};
  if (is_folder(choice.record)) records.choice = {.record = {}, .records = choice.record};
  if (!records.choice.records.empty()) return records;
  auto named = with_fit(read_record(choice.record));
  if (!named) return tl::unexpected(named.error());
  records.named = std::move(*named);
  return records;
}

Result<ResinRecord> record_for(const Records& records, const JobSettings& job) {
  if (records.named) return *records.named;
  return with_fit(pick_record(records.choice.record, records.choice.records, job.resin_label, job.printer_label));
}

}  // namespace hairline::cli
