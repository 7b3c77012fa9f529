#include "checking.hpp"

#include <filesystem>

#include "commands.hpp"
#include "hairline/analyse.hpp"
#include "interrupt.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {

Result<Report> check_job(const std::string& job, const Checking& checking, const Console& console) {
  const ProgressBar bar(progress(), console, std::filesystem::path(job).filename().string());
  const auto archive = Archive::open(job);
  if (!archive) return tl::unexpected(archive.error());
  std::optional<ResinRecord> record;
  if (checking.records) {
    auto chosen = record_for(*checking.records, archive->settings());
    if (!chosen) return tl::unexpected(chosen.error());
    record = std::move(*chosen);
  }
  AnalyseSettings settings;
  settings.exposure_s = checking.judging.exposure_s;
  settings.risk.dose_spread = checking.judging.dose_spread;
  settings.risk.visible_mm = checking.judging.visible_mm;
  settings.sweep = checking.sweep;
  settings.threads = checking.judging.threads;
  settings.tonight = checking.judging.tonight;
  settings.tonight.today = date_or_today(checking.judging.today);
  return analyse(*archive, record ? &*record : nullptr, settings, progress());
}

}  // namespace hairline::cli
