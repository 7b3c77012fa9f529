#include "hairline/check.hpp"

namespace hairline {

Result<Report> check_job(const CheckRequest& request, Progress& progress) {
  const auto archive = Archive::open(request.job, request.open);
  if (!archive) return tl::unexpected(archive.error());
  if (request.records == nullptr) return analyse(*archive, nullptr, request.settings, progress);
  const auto record = record_for(*request.records, archive->settings());
  if (!record) return tl::unexpected(record.error());
  return analyse(*archive, &*record, request.settings, progress);
}

}  // namespace hairline
