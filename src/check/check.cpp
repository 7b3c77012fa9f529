#include "hairline/check.hpp"

namespace hairline {

Result<Report> check_job(const CheckRequest& request, Progress& progress, Pictures* pictures) {
  const auto archive = Archive::open(request.job, request.open);
  if (!archive) return tl::unexpected(archive.error());
  AnalyseSettings settings = request.settings;
  if (settings.memory_bytes == 0) settings.memory_bytes = request.open.limits.memory_bytes;
  if (request.records == nullptr) return analyse(*archive, nullptr, settings, progress, pictures);
  const auto record = record_for(*request.records, archive->settings());
  if (!record) return tl::unexpected(record.error());
  return analyse(*archive, &*record, settings, progress, pictures);
}

}  // namespace hairline
