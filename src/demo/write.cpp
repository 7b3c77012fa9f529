#include "hairline/archive.hpp"
#include "hairline/demo.hpp"
#include "hairline/files.hpp"

namespace hairline {

Result<std::vector<std::filesystem::path>> write_demo(const std::filesystem::path& dir, const DemoSettings& settings,
                                                      Progress* progress) {
  if (Result<void> made = make_folder(dir); !made) return tl::unexpected(made.error());
  std::vector<DemoJob> jobs = small_demo_jobs();
  if (settings.night_long) jobs.push_back(night_demo_job());
  Progress own;
  Progress& counted = progress ? *progress : own;
  std::uint32_t layers = 0;
  for (const DemoJob& job : jobs) layers += job.settings.layer_count;
  counted.start(layers);

  std::vector<std::filesystem::path> written;
  for (const DemoJob& job : jobs) {
    const std::filesystem::path path = dir / job.file_name;
    const auto draw = [&](std::uint32_t number) { return draw_demo_layer(job, number); };
    // Unfiltered: round walls give long equal stretches, which deflate best as they are (15 kB a layer against 23).
    if (Result<void> done = write_archive(path, job.settings, PngFilter::none, draw, counted); !done)
      return tl::unexpected(done.error());
    written.push_back(path);
  }
  const std::pair<const char*, ResinRecord> records[] = {{"harbour-grey.json", harbour_grey_record()},
                                                         {"old-lamp.json", old_lamp_record()}};
  for (const auto& [name, record] : records) {
    const std::filesystem::path path = dir / name;
    if (Result<void> saved = save_record(record, path); !saved) return tl::unexpected(saved.error());
    written.push_back(path);
  }
  return written;
}

}  // namespace hairline
