#include "hairline/archive.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <system_error>

#include "../base/fingerprint.hpp"
#include "../base/spares.hpp"
#include "families.hpp"
#include "foreign.hpp"
#include "png_inflate.hpp"

namespace hairline {

namespace fs = std::filesystem;
using archive::Entry, archive::MaskKind, archive::Opened, archive::Store, archive::Wanted;

struct Archive::State {
  fs::path path;
  Limits limits;
  std::unique_ptr<Store> store;
  Opened job;
  std::atomic<std::uint64_t> layer_bytes = 0;
};

Result<std::unique_ptr<Store>> archive::open_store(const fs::path& path, const Limits& limits) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  const auto fail = [&](ErrorKind kind, std::string found, std::string advice) {
    return tl::unexpected(Error{kind, path.string(), std::move(found),
                                "a layer archive, or a ZIP or folder of PNG masks", std::move(advice)});
  };
  if (status.type() == fs::file_type::not_found)
    return fail(ErrorKind::not_found, "there is no such file", "Check the path.");
  if (fs::is_directory(status)) return archive::open_folder(path, limits);
  if (fs::is_regular_file(status)) return archive::open_zip(path, limits);
  if (fs::exists(status)) return fail(ErrorKind::unreadable, "this is not a plain file", "Name the archive itself.");
  return fail(ErrorKind::unreadable, fmt::format("it cannot be read ({})", error.message()),
              "Check the path and its rights.");
}

namespace {

// A layer archive of our own.
Result<Opened> open_ours(const Store& store, const std::string& file, const std::string& manifest,
                         const OpenOptions& options) {
  Opened out;
  const auto text = archive::with_settings(manifest, options.set, out.masks);
  if (!text) return tl::unexpected(text.error());
  auto settings = parse_manifest(*text, file, options.limits);
  if (!settings) return tl::unexpected(std::move(settings.error()));
  const archive::Pattern pattern = archive::to_pattern(settings->files);
  auto layers = store.list(pattern);
  if (!layers) return tl::unexpected(std::move(layers.error()));
  auto strays = archive::strays_of(store, settings->size, *layers);
  if (!strays) return tl::unexpected(std::move(strays.error()));
  if (auto sound = archive::order_and_check(*layers, pattern, {file, settings->layer_count, false}, options.limits);
      !sound)
    return tl::unexpected(std::move(sound.error()));
  settings->layer_count = static_cast<std::uint32_t>(layers->size());
  if (!strays->empty()) settings->remarks.push_back(archive::left_out_text(*strays));
  if (auto fit = archive::check_exceptions(*settings, file); !fit) return tl::unexpected(std::move(fit.error()));
  out.settings = std::move(*settings);
  out.layers = std::move(*layers);
  return out;
}

Result<Opened> open_any(const Store& store, const std::string& file, const OpenOptions& options) {
  const auto entry = store.find("manifest.json");
  if (!entry) return tl::unexpected(entry.error());
  std::string manifest;
  if (*entry) {
    auto text = archive::read_small(store, **entry, file, options.limits);
    if (!text) return tl::unexpected(std::move(text.error()));
    manifest = std::move(*text);
    if (archive::is_ours(manifest)) return open_ours(store, file, manifest, options);
  }
  const auto entries = store.all();
  if (!entries) return tl::unexpected(entries.error());
  const auto description = archive::fitting(store, *entries, file, options);
  if (!description) return tl::unexpected(description.error());
  // A manifest.json of another format is told as such, unless something says how to read the archive.
  if (*entry && *description == nullptr && options.set.empty()) return open_ours(store, file, manifest, options);
  return archive::open_foreign(store, *entries, file, *description, options);
}

// A PNG is hardly larger than its pixels at eight bytes each; what stands beside them is small.
constexpr std::uint64_t most_bytes_per_pixel = 8, most_beside = 16u << 20;

// Fails with limit where a stored mask is too large for its pixels.
Result<void> check_stored(const Opened& job, const std::string& file, const Limits& limits) {
  const std::uint64_t pixels = std::uint64_t{job.settings.size.width_px} * job.settings.size.height_px;
  const std::uint64_t most = std::min(limits.entry_bytes, pixels * most_bytes_per_pixel + most_beside);
  for (std::size_t i = 0; i < job.layers.size(); ++i) {
    const Wanted wanted{job.layers[i], static_cast<std::uint32_t>(i + 1)};
    if (auto sound = archive::check_entry(file, wanted, most, limits); !sound) return sound;
  }
  return {};
}

}  // namespace

Result<Archive> Archive::open(const fs::path& path, const OpenOptions& options) {
  auto store = archive::open_store(path, options.limits);
  if (!store) return tl::unexpected(std::move(store.error()));
  auto job = open_any(**store, path.string(), options);
  if (!job) {
    if (job.error().file.empty()) job.error().file = path.string();
    return tl::unexpected(std::move(job.error()));
  }
  if (auto stored = check_stored(*job, path.string(), options.limits); !stored) return tl::unexpected(stored.error());
  auto state = std::make_unique<State>();
  state->path = path, state->limits = options.limits;
  state->store = std::move(*store), state->job = std::move(*job);
  return Archive(std::move(state));
}

Archive::Archive(std::unique_ptr<State> state) : state_(std::move(state)) {}
Archive::Archive(Archive&&) noexcept = default;
Archive& Archive::operator=(Archive&&) noexcept = default;
Archive::~Archive() = default;

const JobSettings& Archive::settings() const {
  return state_->job.settings;
}
const fs::path& Archive::path() const {
  return state_->path;
}

Result<std::vector<std::byte>> Archive::read_png(std::uint32_t number) const {
  std::vector<std::byte> bytes;
  if (auto read = read_file(number, bytes); !read) return tl::unexpected(std::move(read.error()));
  return bytes;
}

Result<void> Archive::unchanged() const {
  return state_->store->unchanged();
}

std::uint64_t Archive::layer_bytes() const {
  return state_->layer_bytes;
}

bool Archive::stored_as_shown() const {
  return state_->job.masks.plain();
}

Result<std::string> Archive::content_key() const {
  const archive::MaskKind masks = state_->job.masks;
  std::string layers = fmt::format("{} {}\n", masks.invert, masks.subpixels);
  std::vector<std::byte> bytes;
  for (std::uint32_t number = 1; number <= state_->job.layers.size(); ++number) {
    const auto read = read_file(number, bytes);
    if (!read && read.error().kind != ErrorKind::broken) return tl::unexpected(read.error());
    layers += read ? fingerprint({reinterpret_cast<const char*>(bytes.data()), bytes.size()}) : read.error().found;
    layers += '\n';
  }
  if (auto same = unchanged(); !same) return tl::unexpected(std::move(same.error()));
  return fingerprint(layers);
}

std::string Archive::state_key() const {
  const std::vector<Entry>& layers = state_->job.layers;
  const std::string marks = state_->store->marks(layers);
  if (marks.empty()) return {};
  std::string text = fmt::format("{}\n{} {}\n", marks, state_->job.masks.invert, state_->job.masks.subpixels);
  for (const Entry& layer : layers) text += fmt::format("{} {}\n", layer.index, layer.name);
  return fingerprint(text);
}

Result<Layer> Archive::read_layer(std::uint32_t number) const {
  static Spares<std::vector<std::byte>> spares;  // kept from layer to layer
  const auto lent = spares.lend();
  std::vector<std::byte>& bytes = *lent;
  if (auto read = read_file(number, bytes); !read) return tl::unexpected(std::move(read.error()));
  const PngSource source{state_->path.string(), number};
  const Size size = state_->job.settings.size;
  auto layer = state_->job.masks.subpixels == 1 ? decode_png(bytes, size, source, state_->limits)
                                                : decode_subpixels(bytes, size, source, state_->limits);
  if (!layer) return layer;
  const std::uint64_t took = bytes.size() + png::decoding_bytes(bytes, state_->limits);
  for (std::uint64_t most = state_->layer_bytes; took > most && !state_->layer_bytes.compare_exchange_weak(most, took);)
    ;
  return state_->job.masks.invert ? inverted(*layer) : std::move(*layer);
}

Result<void> Archive::read_file(std::uint32_t number, std::vector<std::byte>& bytes) const {
  const std::vector<Entry>& layers = state_->job.layers;
  if (number < 1 || number > layers.size())
    return tl::unexpected(Error{ErrorKind::usage, state_->path.string(), "there is no such layer",
                                fmt::format("a layer from 1 to {}", layers.size()), "Correct the number.", number});
  return state_->store->read({layers[number - 1], number}, bytes);
}

}  // namespace hairline
