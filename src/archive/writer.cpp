// Archives written by libzip: the manifest first, then the layers, stored as they are (a PNG is packed already). Times
// are fixed, so the same job gives the same bytes.
#include <fmt/format.h>
#include <zip.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <system_error>

#include "../base/output_file.hpp"
#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "names.hpp"

namespace hairline {

namespace fs = std::filesystem;

namespace {

constexpr zip_uint16_t fixed_date =
    (20 << 9) | (1 << 5) | 1;  // 2000-01-01 in MS-DOS form: years since 1980, month, day

constexpr zip_uint32_t layer_attributes = 0100600u << 16;  // a plain file, its owner's

Error unwritable(const fs::path& path, const std::string& why) {
  return {ErrorKind::unwritable, path.string(), fmt::format("the archive cannot be written ({})", why),
          "a place where a file may be written", "Choose another path."};
}

// Takes the source, also where it fails.
bool add_source(zip_t* zip, const std::string& name, zip_source_t* source) {
  if (source == nullptr) return false;
  const zip_int64_t index = zip_file_add(zip, name.c_str(), source, ZIP_FL_ENC_UTF_8);
  if (index < 0) {
    zip_source_free(source);
    return false;
  }
  const auto at = static_cast<zip_uint64_t>(index);
  return zip_set_file_compression(zip, at, ZIP_CM_STORE, 0) == 0 &&
         zip_file_set_dostime(zip, at, 0, fixed_date, 0) == 0;
}

// What libzip asks of the file it writes to: a new, empty one.
zip_int64_t on_file(void* state, void* data, zip_uint64_t length, zip_source_cmd_t command) {
  std::FILE* file = static_cast<OutputFile*>(state)->file();
  switch (command) {
    case ZIP_SOURCE_SUPPORTS:
      return zip_source_make_command_bitmap(
          ZIP_SOURCE_OPEN, ZIP_SOURCE_READ, ZIP_SOURCE_CLOSE, ZIP_SOURCE_STAT, ZIP_SOURCE_ERROR, ZIP_SOURCE_FREE,
          ZIP_SOURCE_SEEK, ZIP_SOURCE_TELL, ZIP_SOURCE_BEGIN_WRITE, ZIP_SOURCE_COMMIT_WRITE, ZIP_SOURCE_ROLLBACK_WRITE,
          ZIP_SOURCE_WRITE, ZIP_SOURCE_SEEK_WRITE, ZIP_SOURCE_TELL_WRITE, ZIP_SOURCE_REMOVE, -1);
    case ZIP_SOURCE_STAT:
      zip_stat_init(static_cast<zip_stat_t*>(data));
      return sizeof(zip_stat_t);
    case ZIP_SOURCE_ERROR: {
      const int error[2] = {ZIP_ER_WRITE, errno};
      std::memcpy(data, error, sizeof error);
      return sizeof error;
    }
    case ZIP_SOURCE_WRITE:
      return std::fwrite(data, 1, length, file) == length ? static_cast<zip_int64_t>(length) : -1;
    case ZIP_SOURCE_SEEK_WRITE: {
      const auto& to = *static_cast<zip_source_args_seek_t*>(data);
      return ::fseeko(file, to.offset, to.whence);
    }
    case ZIP_SOURCE_TELL_WRITE:
      return ::ftello(file);
    default:
      return 0;
  }
}

}  // namespace

struct ArchiveWriter::State {
  fs::path path;
  OutputFile output, waiting;  // the layers wait one behind the other, until libzip reads them
  std::uint64_t layer_bytes = 0;
  std::string manifest;  // libzip reads it at the end
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
  }

  Error failure() const { return unwritable(path, zip_strerror(zip)); }
  Error wrong(std::string found, std::string expected) const {
    return {ErrorKind::mismatch,
            path.string(),
            std::move(found),
            std::move(expected),
            "Make layers and settings agree.",
            added + 1};
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
  for (OutputFile* file : {&state->output, &state->waiting})
    if (auto opened = file->open(path); !opened) return tl::unexpected(std::move(opened.error()));
  zip_error_t failed;
  zip_error_init(&failed);
  zip_source_t* source = zip_source_function_create(on_file, &state->output, &failed);
  state->zip = source == nullptr ? nullptr : zip_open_from_source(source, ZIP_CREATE | ZIP_TRUNCATE, &failed);
  const std::string why = state->zip == nullptr ? zip_error_strerror(&failed) : "";
  zip_error_fini(&failed);
  if (state->zip == nullptr) {
    zip_source_free(source);
    return tl::unexpected(unwritable(path, why));
  }
  state->manifest = write_manifest(settings);
  if (!add_source(state->zip, "manifest.json",
                  zip_source_buffer(state->zip, state->manifest.data(), state->manifest.size(), 0)))
    return tl::unexpected(state->failure());
  return ArchiveWriter(std::move(state));
}

Result<void> ArchiveWriter::add(const Layer& layer) {
  const Size size = state_->settings.size;
  if (layer.size != size)
    return tl::unexpected(
        state_->wrong(fmt::format("a layer of {} x {} pixels", layer.size.width_px, layer.size.height_px),
                      fmt::format("{} x {} pixels", size.width_px, size.height_px)));
  return add_png(encode_png(layer, state_->filter));
}

Result<void> ArchiveWriter::add_png(std::span<const std::byte> png) {
  State& state = *state_;
  if (state.zip == nullptr) return tl::unexpected(unwritable(state.path, "it is finished already"));
  if (state.added == state.settings.layer_count)
    return tl::unexpected(state.wrong("one layer too many", fmt::format("{} layers", state.settings.layer_count)));
  std::FILE* layers = state.waiting.file();
  if (std::fwrite(png.data(), 1, png.size(), layers) != png.size() || std::fflush(layers) != 0)
    return tl::unexpected(unwritable(state.path, std::generic_category().message(errno)));
  zip_source_t* source = zip_source_file(state.zip, state.waiting.aside().c_str(), state.layer_bytes,
                                         static_cast<zip_int64_t>(png.size()));
  if (!add_source(state.zip, archive::layer_name(state.pattern, state.added + 1), source))
    return tl::unexpected(state.failure());
  // Whatever rights the waiting file has: the same job gives the same bytes.
  if (zip_file_set_external_attributes(state.zip, state.added + 1, 0, ZIP_OPSYS_UNIX, layer_attributes) != 0)
    return tl::unexpected(state.failure());
  state.layer_bytes += png.size();
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
  return state.output.finish();
}

Result<void> write_archive(const fs::path& path, const JobSettings& settings, PngFilter filter,
                           const std::function<Result<void>(ArchiveWriter& writer, std::uint32_t number)>& add,
                           Progress& progress) {
  auto writer = ArchiveWriter::create(path, settings, filter);
  if (!writer) return tl::unexpected(std::move(writer.error()));
  for (std::uint32_t number = 1; number <= settings.layer_count; ++number) {
    if (progress.cancelled())
      return tl::unexpected(
          Error{ErrorKind::cancelled, path.string(), "stopped on request", "the whole job", "", number});
    if (auto added = add(*writer, number); !added) return added;
    progress.advance();
  }
  return writer->finish();
}

Result<void> write_archive(const fs::path& path, const JobSettings& settings, PngFilter filter,
                           const std::function<Layer(std::uint32_t number)>& draw, Progress& progress) {
  const auto add = [&](ArchiveWriter& writer, std::uint32_t number) { return writer.add(draw(number)); };
  return write_archive(path, settings, filter, add, progress);
}

}  // namespace hairline
