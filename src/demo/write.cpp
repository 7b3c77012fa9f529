#include <system_error>

#include "hairline/archive.hpp"
#include "hairline/demo.hpp"

namespace hairline {
namespace {

Result<void> write_job(const DemoJob& job, const std::filesystem::path& path, Progress& progress) {
  // Unfiltered: round walls give long equal stretches, which deflate best as they are (15 kB a layer against 23).
  Result<ArchiveWriter> writer = ArchiveWriter::create(path, job.settings, PngFilter::none);
  if (!writer) return tl::unexpected(writer.error());
  for (std::uint32_t n = 1; n <= job.settings.layer_count; ++n) {
    if (progress.cancelled()) {
      return tl::unexpected(Error{ErrorKind::cancelled, path.string(), n, "stopped on request", "the whole job", ""});
    }
    if (Result<void> added = writer->add(draw_demo_layer(job, n)); !added) return added;
    progress.advance();
  }
  return writer->finish();
}

Result<void> make_folder(const std::filesystem::path& dir) {
  std::error_code failure;
  std::filesystem::create_directories(dir, failure);
  if (failure || !std::filesystem::is_directory(dir, failure)) {
    return tl::unexpected(Error{ErrorKind::unwritable, dir.string(), std::nullopt,
                                "the folder cannot be made" + (failure ? ": " + failure.message() : std::string()),
                                "a folder, or a place where one can be made", "Choose another folder."});
  }
  return {};
}

}  // namespace

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
    if (Result<void> done = write_job(job, path, counted); !done) return tl::unexpected(done.error());
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
