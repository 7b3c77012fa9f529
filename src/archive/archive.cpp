#include "hairline/archive.hpp"

#include <fmt/format.h>

#include <system_error>

#include "store.hpp"

namespace hairline {

namespace fs = std::filesystem;
using archive::Entry, archive::Store, archive::Wanted;

struct Archive::State {
  fs::path path;
  Limits limits;
  JobSettings settings;
  std::unique_ptr<Store> store;
  std::vector<Entry> layers;  // index 0 is layer 1
};

namespace {

// A few bytes may pack well by chance or by repetition; what is larger and packed more tightly than deflate can pack a
// picture is made to fill the memory.
constexpr std::uint64_t harmless_bytes = 1 << 20;

Result<std::unique_ptr<Store>> open_store(const fs::path& path) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  const auto fail = [&](ErrorKind kind, std::string found, std::string advice) {
    return tl::unexpected(Error{.kind = kind,
                                .file = path.string(),
                                .layer = {},
                                .found = std::move(found),
                                .expected = "a layer archive: a ZIP or a folder with a manifest.json",
                                .advice = std::move(advice)});
  };
  if (status.type() == fs::file_type::not_found)
    return fail(ErrorKind::not_found, "there is no such file", "Check the path.");
  if (fs::is_directory(status)) return archive::open_folder(path);
  if (fs::is_regular_file(status)) return archive::open_zip(path);
  if (fs::exists(status)) return fail(ErrorKind::unreadable, "this is not a plain file", "Name the archive itself.");
  return fail(ErrorKind::unreadable, fmt::format("it cannot be read ({})", error.message()),
              "Check the path and its rights.");
}

Result<void> check_entry(const std::string& file, const Wanted& wanted, std::uint64_t most_bytes,
                         const Limits& limits) {
  const Entry& entry = wanted.entry;
  const auto fail = [&](ErrorKind kind, std::string found, std::string expected, std::string advice) {
    return tl::unexpected(Error{.kind = kind,
                                .file = file,
                                .layer = wanted.layer,
                                .found = fmt::format("\"{}\" {}", entry.name, found),
                                .expected = std::move(expected),
                                .advice = std::move(advice)});
  };
  if (entry.folder) return fail(ErrorKind::unreadable, "is a folder", "a file", "Export the job again.");
  if (entry.bytes == 0) return fail(ErrorKind::broken, "is empty", "a file with content", "Export the job again.");
  if (entry.bytes > most_bytes)
    return fail(ErrorKind::limit, fmt::format("is {} bytes large", entry.bytes),
                fmt::format("at most {} bytes", most_bytes), "Check that this is the right file.");
  if (entry.bytes > harmless_bytes &&
      static_cast<double>(entry.bytes) > static_cast<double>(entry.packed_bytes) * limits.compression_ratio)
    return fail(ErrorKind::limit, fmt::format("is {} bytes packed into {}", entry.bytes, entry.packed_bytes),
                fmt::format("at most {} times the packed size", limits.compression_ratio),
                "Do not trust this archive.");
  return {};
}

Result<JobSettings> read_settings(const Store& store, const std::string& file, const Limits& limits) {
  const auto entry = store.manifest();
  if (!entry) return tl::unexpected(entry.error());
  const Wanted wanted{*entry, {}};
  if (auto sound = check_entry(file, wanted, limits.manifest_bytes, limits); !sound)
    return tl::unexpected(std::move(sound.error()));
  std::vector<std::byte> bytes;
  if (auto read = store.read(wanted, bytes); !read) return tl::unexpected(std::move(read.error()));
  return parse_manifest(std::string(reinterpret_cast<const char*>(bytes.data()), bytes.size()), file, limits);
}

Result<std::vector<Entry>> find_layers(const Store& store, const JobSettings& settings, const std::string& file,
                                       const Limits& limits) {
  const archive::Pattern pattern = archive::to_pattern(settings.files);
  auto layers = store.list(pattern);
  if (!layers) return layers;
  if (layers->size() > limits.layers)
    return tl::unexpected(Error{.kind = ErrorKind::limit,
                                .file = file,
                                .layer = {},
                                .found = fmt::format("the archive holds {} layers", layers->size()),
                                .expected = fmt::format("at most {} layers", limits.layers),
                                .advice = "Check that this is the right file."});
  if (auto ordered = archive::put_in_order(*layers, pattern, {file, settings.layer_count}); !ordered)
    return tl::unexpected(std::move(ordered.error()));
  for (std::size_t i = 0; i < layers->size(); ++i) {
    const Wanted wanted{(*layers)[i], static_cast<std::uint32_t>(i + 1)};
    if (auto sound = check_entry(file, wanted, limits.entry_bytes, limits); !sound)
      return tl::unexpected(std::move(sound.error()));
  }
  return layers;
}

}  // namespace

Result<Archive> Archive::open(const fs::path& path, const Limits& limits) {
  auto store = open_store(path);
  if (!store) return tl::unexpected(std::move(store.error()));
  const std::string file = path.string();
  auto settings = read_settings(**store, file, limits);
  if (!settings) return tl::unexpected(std::move(settings.error()));
  auto layers = find_layers(**store, *settings, file, limits);
  if (!layers) return tl::unexpected(std::move(layers.error()));
  settings->layer_count = static_cast<std::uint32_t>(layers->size());
  if (auto fit = archive::check_exceptions(*settings, file); !fit) return tl::unexpected(std::move(fit.error()));
  return Archive(
      std::make_unique<State>(State{path, limits, std::move(*settings), std::move(*store), std::move(*layers)}));
}

Archive::Archive(std::unique_ptr<State> state) : state_(std::move(state)) {}
Archive::Archive(Archive&&) noexcept = default;
Archive& Archive::operator=(Archive&&) noexcept = default;
Archive::~Archive() = default;

const JobSettings& Archive::settings() const {
  return state_->settings;
}
const fs::path& Archive::path() const {
  return state_->path;
}

Result<std::vector<std::byte>> Archive::read_png(std::uint32_t number) const {
  std::vector<std::byte> bytes;
  if (auto read = read_file(number, bytes); !read) return tl::unexpected(std::move(read.error()));
  return bytes;
}

Result<Layer> Archive::read_layer(std::uint32_t number) const {
  static thread_local std::vector<std::byte> bytes;  // kept from layer to layer
  if (auto read = read_file(number, bytes); !read) return tl::unexpected(std::move(read.error()));
  return decode_png(bytes, state_->settings.size, {state_->path.string(), number}, state_->limits);
}

Result<void> Archive::read_file(std::uint32_t number, std::vector<std::byte>& bytes) const {
  if (number < 1 || number > state_->layers.size())
    return tl::unexpected(Error{.kind = ErrorKind::usage,
                                .file = state_->path.string(),
                                .layer = number,
                                .found = "there is no such layer",
                                .expected = fmt::format("a layer from 1 to {}", state_->layers.size()),
                                .advice = "Correct the number."});
  return state_->store->read({state_->layers[number - 1], number}, bytes);
}

}  // namespace hairline
