/// Layer archives (formats/layer-archive.md): a ZIP or a folder with manifest.json and PNG masks; opened, read layer by
/// layer, and written. Nothing is unpacked to disk.
#pragma once
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "hairline/foreign.hpp"
#include "hairline/layer.hpp"
#include "hairline/progress.hpp"
#include "hairline/result.hpp"
#include "hairline/settings.hpp"

namespace hairline {

/// Limits on foreign files, checked before memory is taken.
struct Limits {
  std::uint64_t pixels_per_mask = 200'000'000;
  std::uint32_t side_px = 65'535;
  std::uint32_t layers = 100'000;
  std::uint32_t entries = 300'000;            ///< files in a ZIP or folder
  std::uint64_t directory_bytes = 64u << 20;  ///< of a ZIP
  std::uint64_t memory_bytes = 0;  ///< that the program may take; 0: AnalyseSettings::memory_bytes says what is usual
  /// Runs of equal value in a mask.
  std::uint32_t runs_per_mask() const {
    return static_cast<std::uint32_t>(memory_bytes == 0 ? 10'000'000
                                                        : std::min<std::uint64_t>(memory_bytes / 100, 1'000'000'000));
  }
  std::uint64_t manifest_bytes = 1u << 20;
  std::uint64_t entry_bytes = 512u << 20;  ///< one PNG file as stored
  /// Raw and packed bytes of a mask that is inflated at once, which is fast; a larger one is inflated row by row. The
  /// default is 15360 x 8640 grey pixels, or 7680 x 4320 in colour with alpha.
  std::uint64_t whole_bytes = 128u << 20;
  /// A PNG may hold at most this many raw bytes per compressed byte (a row of zeros reaches about 1030).
  double compression_ratio = 1100;
};

/// How an archive is opened.
struct OpenOptions {
  Limits limits = {};
  std::vector<SettingValue> set = {};        ///< these go before what the archive says; of two the later one counts
  std::vector<SettingValue> otherwise = {};  ///< these fill in where it says nothing
  std::optional<ArchiveDescription> description = {};  ///< how to read it, where it is no layer archive
  std::vector<ArchiveDescription> known = {};          ///< tried where none is given
  std::string command = {};  ///< as it was typed, for advice: what is missing is put behind it
};

/// An opened archive: settings checked, every layer's entry found, numbering complete. Layers are read on demand.
class Archive {
 public:
  /// A layer archive, or any other ZIP or folder of masks (hairline/foreign.hpp). Fails with not_found, unreadable,
  /// broken (ZIP, JSON), invalid (a field), version, mismatch (numbering, count; several descriptions fit), limit,
  /// usage (settings are missing: the advice is what to type).
  static Result<Archive> open(const std::filesystem::path& path, const OpenOptions& options = {});
  Archive(Archive&&) noexcept;
  Archive& operator=(Archive&&) noexcept;
  ~Archive();

  const JobSettings& settings() const;
  const std::filesystem::path& path() const;

  /// Reads and decodes layer `number` (1-based) into runs. Any number of threads may call this at once; each call
  /// reads what was opened, never what has taken its place since. Fails with broken, mismatch (mask size), limit,
  /// unreadable; the error names the layer.
  Result<Layer> read_layer(std::uint32_t number) const;

  /// Bytes that reading and decoding took for each of the layers read so far, at most, beside the layer itself; each
  /// thread that reads keeps them.
  std::uint64_t layer_bytes() const;
  /// Asked when the last layer has been read: what was read is what was there when the archive was opened. Fails with
  /// unreadable where it is not (it "changed while it was read"); reading fails so as well.
  Result<void> unchanged() const;

  /// A short text that stands for all that reading the layers gives: their files, in order, and how pixels are meant.
  /// Names, places and settings do not count, nor do other files. A damaged layer counts by its damage. Every layer's
  /// file is read, none is decoded. Fails with unreadable and limit, as reading does.
  Result<std::string> content_key() const;
  /// A short text that is another one when files were written, moved or replaced, or when other ones are the layers: as
  /// long as it is the same, so is the `content_key` that is asked for after it. Nothing is read for it. Empty where
  /// that cannot be told, as of files written a moment ago.
  std::string state_key() const;
  /// The stored PNG file of layer `number`, whole.
  Result<std::vector<std::byte>> read_png(std::uint32_t number) const;
  /// The stored pictures are the masks: they are neither inverted nor do they hold three masks' pixels in one.
  bool stored_as_shown() const;

 private:
  struct State;
  explicit Archive(std::unique_ptr<State> state);
  Result<void> read_file(std::uint32_t number, std::vector<std::byte>& bytes) const;
  std::unique_ptr<State> state_;
};

/// Manifest text to settings. `file` is used in errors only. Unknown fields are ignored; null counts as left out. Fails
/// with broken (JSON), version, invalid (a field), limit (size of image, number of layers, length of the text).
Result<JobSettings> parse_manifest(const std::string& text, const std::string& file, const Limits& limits = {});
/// Settings to manifest text, pretty-printed, every stated field in the order of the format page. Read back it gives
/// the same settings. Precondition: numbers are finite.
std::string write_manifest(const JobSettings& settings);

/// Decodes one PNG of any kind to grey runs: colour by Rec. 601 luma ((77 R + 150 G + 29 B) / 256, as stb_image does),
/// alpha over black, 16 bit by the high byte. `expected` is the size the manifest promises. Fails with broken (also
/// where a checksum is wrong), mismatch (size), limit; errors carry `file` and `layer`. Any number of threads may call
/// this.
struct PngSource {
  std::string file;
  std::uint32_t layer = 1;
};
Result<Layer> decode_png(std::span<const std::byte> png, Size expected, const PngSource& source,
                         const Limits& limits = {});
/// The same where red, green and blue of each pixel are three grey values side by side: `expected` is three times as
/// wide as the picture.
Result<Layer> decode_subpixels(std::span<const std::byte> png, Size expected, const PngSource& source,
                               const Limits& limits = {});

/// How a written mask is filtered: `none` (fast to write and read), `up` (rows that repeat become zeros), or `adaptive`
/// (per row the filter with the least sum of absolute differences, ISO/IEC 15948 12.8).
enum class PngFilter : std::uint8_t { none, up, adaptive };

/// Layer to an 8-bit grey PNG file; `level` is the compression effort, 0 to 12. Same layer, same bytes.
std::vector<std::byte> encode_png(const Layer& layer, PngFilter filter = PngFilter::up, int level = 6);

/// Writes a ZIP archive aside (`path` + ".part") and renames it when complete, so no half-written file stays under
/// `path`. Layers are added in order, layer 1 first, and named by `settings.files` with five digits. Until `finish`
/// they wait in a second file aside, with a name of its own: memory holds one layer. Same layers, same bytes. Not for
/// use by several threads at once.
class ArchiveWriter {
 public:
  static Result<ArchiveWriter> create(const std::filesystem::path& path, const JobSettings& settings,
                                      PngFilter filter = PngFilter::up);
  ArchiveWriter(ArchiveWriter&&) noexcept;
  ArchiveWriter& operator=(ArchiveWriter&&) noexcept;
  ~ArchiveWriter();  ///< removes the unfinished file

  /// Fails with mismatch (size, or more layers than the settings say).
  Result<void> add(const Layer& layer);
  /// The same for a mask that is a PNG file already; that it has the right size is the caller's promise.
  Result<void> add_png(std::span<const std::byte> png);
  /// Fails with mismatch (fewer layers than the settings say) and unwritable.
  Result<void> finish();

 private:
  struct State;
  explicit ArchiveWriter(std::unique_ptr<State> state);
  std::unique_ptr<State> state_;
};

/// Writes the whole archive: `add` adds each layer by its number, layer 1 first. `progress` counts them. Fails as
/// ArchiveWriter and `add` do, or with cancelled.
Result<void> write_archive(const std::filesystem::path& path, const JobSettings& settings, PngFilter filter,
                           const std::function<Result<void>(ArchiveWriter& writer, std::uint32_t number)>& add,
                           Progress& progress);
/// The same of layers that `draw` gives.
Result<void> write_archive(const std::filesystem::path& path, const JobSettings& settings, PngFilter filter,
                           const std::function<Layer(std::uint32_t number)>& draw, Progress& progress);

/// Writes an opened archive as a layer archive that opens to the same settings (but for `files` and `remarks`) and
/// layers. Masks are copied where they are 8-bit or 1-bit grey PNGs without interlacing and nothing has to be changed
/// in them, else encoded again; all are decoded, so that a broken one is found. `progress` counts layers. Fails as
/// reading and writing do, or with cancelled.
Result<void> pack_archive(const Archive& archive, const std::filesystem::path& path, Progress& progress);

}  // namespace hairline
