// Archives written by libzip: the manifest first, then the layers, stored as they are (a PNG is packed already). Times
// are fixed, so the same job gives the same bytes.
#include <fmt/format.h>
#include <unistd.h>
#include <zip.h>

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <system_error>

#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "names.hpp"

namespace hairline {

namespace fs = std::filesystem;

namespace {

constexpr zip_uint16_t fixed_date =
    (20 << 9) | (1 << 5) | 1;  // 2000-01-01 in MS-DOS form: years since 1980, month, day

Error unwritable(const fs::path& path, const std::string& why) {
  return {.kind = ErrorKind::unwritable,
          .file = path.string(),
          .layer = {},
          .found = fmt::format("the archive cannot be written ({})", why),
          .expected = "a place where a file may be written",
          .advice = "Choose another path."};
}

// libzip keeps the memory until the archive is closed and frees it itself.
bool add_file(zip_t* zip, const std::string& name, const void* bytes, std::size_t count) {
  void* copy = std::malloc(count > 0 ? count : 1);
  if (copy == nullptr) return false;
  std::memcpy(copy, bytes, count);
  zip_source_t* source = zip_source_buffer(zip, copy, count, 1);
  if (source == nullptr) {
    std::free(copy);
    return false;
  }
  const zip_int64_t index = zip_file_add(zip, name.c_str(), source, ZIP_FL_ENC_UTF_8);
  if (index < 0) {
    zip_source_free(source);
    return false;
  }
  const auto at = static_cast<zip_uint64_t>(index);
  return zip_set_file_compression(zip, at, ZIP_CM_STORE, 0) == 0 &&
         zip_file_set_dostime(zip, at, 0, fixed_date, 0) == 0;
}

}  // namespace

struct ArchiveWriter::State {
  fs::path path, part;
  JobSettings settings;
  PngFilter filter = PngFilter::up;
  archive::Pattern pattern;
  zip_t* zip = nullptr;
  std::uint32_t added = 0;

  State() = default;
  State(const State&) = delete;
  State& operator=(const State&) = delete;
  ~State() {
    if (zip != nullptr) zip_discard(zip);
    if (!part.empty()) ::unlink(part.c_str());
  }

  Error failure() const { return unwritable(path, zip_strerror(zip)); }
  Error wrong(std::string found, std::string expected) const {
    return {.kind = ErrorKind::mismatch,
            .file = path.string(),
            .layer = added + 1,
            .found = std::move(found),
            .expected = std::move(expected),
            .advice = "Make layers and settings agree."};
  }
};

ArchiveWriter::ArchiveWriter(std::unique_ptr<State> state) : state_(std::move(state)) {}
ArchiveWriter::ArchiveWriter(ArchiveWriter&&) noexcept = default;
ArchiveWriter& ArchiveWriter::operator=(ArchiveWriter&&) noexcept = default;
ArchiveWriter::~ArchiveWriter() = default;

Result<ArchiveWriter> ArchiveWriter::create(const fs::path& path, const JobSettings& settings, PngFilter filter) {
  if (auto free = check_writable(path); !free) return tl::unexpected(std::move(free.error()));
  std::error_code error;
  if (fs::exists(path, error) && !fs::is_regular_file(path, error))
    return tl::unexpected(unwritable(path, "this is not a plain file"));
  auto state = std::make_unique<State>();
  state->path = path;
  state->settings = settings;
  state->filter = filter;
  state->pattern = archive::to_pattern(archive::is_pattern(settings.files) ? settings.files : "layers/*.png");
  fs::path part = path;
  part += ".part";
  int code = 0;
  state->zip = zip_open(part.c_str(), ZIP_CREATE | ZIP_TRUNCATE, &code);
  if (state->zip == nullptr) return tl::unexpected(unwritable(path, fmt::format("ZIP error {}", code)));
  state->part = part;
  const std::string manifest = write_manifest(settings);
  if (!add_file(state->zip, "manifest.json", manifest.data(), manifest.size())) return tl::unexpected(state->failure());
  return ArchiveWriter(std::move(state));
}

Result<void> ArchiveWriter::add(const Layer& layer) {
  State& state = *state_;
  if (state.zip == nullptr) return tl::unexpected(unwritable(state.path, "it is finished already"));
  const Size size = state.settings.size;
  if (layer.size != size)
    return tl::unexpected(
        state.wrong(fmt::format("a layer of {} x {} pixels", layer.size.width_px, layer.size.height_px),
                    fmt::format("{} x {} pixels", size.width_px, size.height_px)));
  if (state.added == state.settings.layer_count)
    return tl::unexpected(state.wrong("one layer too many", fmt::format("{} layers", state.settings.layer_count)));
  const std::vector<std::byte> png = encode_png(layer, state.filter);
  if (!add_file(state.zip, archive::layer_name(state.pattern, state.added + 1), png.data(), png.size()))
    return tl::unexpected(state.failure());
  ++state.added;
  return {};
}

Result<void> ArchiveWriter::finish() {
  State& state = *state_;
  if (state.zip == nullptr) return tl::unexpected(unwritable(state.path, "it is finished already"));
  if (state.added != state.settings.layer_count)
    return tl::unexpected(
        state.wrong(fmt::format("only {} layers", state.added), fmt::format("{} layers", state.settings.layer_count)));
  if (zip_close(state.zip) != 0) return tl::unexpected(state.failure());
  state.zip = nullptr;
  if (std::rename(state.part.c_str(), state.path.c_str()) != 0)
    return tl::unexpected(unwritable(state.path, std::generic_category().message(errno)));
  state.part.clear();
  return {};
}

Result<void> write_archive(const fs::path& path, const JobSettings& settings, PngFilter filter,
                           const std::function<Layer(std::uint32_t number)>& draw, Progress& progress) {
  auto writer = ArchiveWriter::create(path, settings, filter);
  if (!writer) return tl::unexpected(std::move(writer.error()));
  for (std::uint32_t number = 1; number <= settings.layer_count; ++number) {
    if (progress.cancelled())
      return tl::unexpected(
          Error{ErrorKind::cancelled, path.string(), number, "stopped on request", "the whole job", ""});
    if (auto added = writer->add(draw(number)); !added) return added;
    progress.advance();
  }
  return writer->finish();
}

}  // namespace hairline
