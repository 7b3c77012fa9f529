// The inputs that fuzzing starts from, one folder per target: examples and broken examples of the formats, what the
// demo and the PNG writer write, and the files of tests/fuzz/seeds and tests/fuzz/kept.
#include <fstream>

#include "hairline/archive.hpp"
#include "hairline/demo.hpp"
#include "hairline/files.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

const fs::path source = HAIRLINE_SOURCE_DIR;

void copy_all(const fs::path& from, const fs::path& folder, const std::string& prefix) {
  if (!fs::exists(from)) return;
  fs::create_directories(folder);
  for (const auto& entry : fs::directory_iterator(from))
    if (entry.path().extension() != ".expected")
      fs::copy_file(entry.path(), folder / (prefix + entry.path().filename().string()));
}

void copy_format(const std::string& format, const fs::path& folder) {
  copy_all(source / "formats/examples" / format, folder, "example-");
  copy_all(source / "formats/broken" / format, folder, "broken-");
}

bool write(const fs::path& path, const std::vector<std::byte>& bytes) {
  fs::create_directories(path.parent_path());
  std::ofstream file(path, std::ios::binary);
  return bool(file.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size())));
}

// The middle of a layer, small enough for thousands of runs a second.
Layer cut(const DemoJob& job, std::uint32_t number, Size size) {
  const Layer whole = draw_demo_layer(job, number);
  const auto pixels = decode(whole);
  std::vector<std::uint8_t> middle;
  for (std::uint32_t row = 0; row < size.height_px; ++row) {
    const std::size_t from = std::size_t{(whole.size.height_px - size.height_px) / 2 + row} * whole.size.width_px +
                             (whole.size.width_px - size.width_px) / 2;
    middle.insert(middle.end(), pixels.begin() + static_cast<std::ptrdiff_t>(from),
                  pixels.begin() + static_cast<std::ptrdiff_t>(from + size.width_px));
  }
  return encode(middle, size);
}

// Three layers as archives and as PNGs with every filter; without its manifest each is one of another program.
bool write_demo_seeds(const DemoJob& job, const fs::path& folder) {
  JobSettings settings = job.settings;
  settings.size = {60, 40};
  settings.layer_count = 3;
  const auto draw = [&](std::uint32_t number) {
    return cut(job, job.settings.layer_count / 2 + number - 1, settings.size);
  };
  bool all = true;
  for (const PngFilter filter : {PngFilter::none, PngFilter::up, PngFilter::adaptive}) {
    Progress progress;
    const std::string name = std::to_string(static_cast<int>(filter)) + "-" + job.file_name;
    all = all && write((folder / "png" / name).replace_extension(".png"), encode_png(draw(1), filter));
    fs::create_directories(folder / "zip");
    all = all && write_archive(folder / "zip" / name, settings, filter, draw, progress).has_value();
    std::string text = read_text(folder / "zip" / name).value();
    for (std::size_t at; (at = text.find("manifest.json")) != std::string::npos;) text.replace(at, 8, "settings");
    all = all && write_text(folder / "zip" / ("foreign-" + name), text).has_value();
  }
  return all;
}

// Image data of every kind, in the form that the PNG target takes; any of its bytes may stand as a filter.
bool write_rows(const fs::path& folder) {
  bool all = true;
  for (char kind = 0; kind < 15; ++kind)
    for (char flags = 0; flags < 4; ++flags) {
      std::string text{59, 39, kind, flags};
      for (int i = 0; i < 2000; ++i) text += static_cast<char>((i * i / 7 + i / 60) % 5);
      all = all && write_text(folder / "png" / ("rows-" + std::to_string(kind * 4 + flags)), text).has_value();
    }
  return all;
}

}  // namespace

int main(int count, char** arguments) {
  if (count != 2) return 2;
  const fs::path folder = arguments[1];
  fs::remove_all(folder);
  copy_format("layer-archive", folder / "manifest");
  copy_format("queue-report", folder / "queue_report");
  copy_format("print-outcome", folder / "outcome");
  copy_format("archive-description", folder / "description");
  copy_format("resin-record", folder / "record");
  copy_format("print-queue", folder / "queue_file");
  for (const char* kind : {"seeds", "kept"})
    if (fs::exists(source / "tests/fuzz" / kind))
      for (const auto& target : fs::directory_iterator(source / "tests/fuzz" / kind))
        copy_all(target, folder / target.path().filename(), std::string(kind) + "-");
  for (const DemoJob& job : small_demo_jobs())
    if (!write_demo_seeds(job, folder)) return 1;
  return write_rows(folder) ? 0 : 1;
}
