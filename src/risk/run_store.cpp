#include "run_store.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::risk {

std::uint8_t times_before(const std::vector<double>& times_s, double time_s) {
  return static_cast<std::uint8_t>(std::lower_bound(times_s.begin(), times_s.end(), time_s) - times_s.begin());
}

std::vector<double> times_of_layer(const RiskContext& context, std::uint32_t number) {
  std::vector<double> times_s = context.times_s;
  const PrintedLayer& printed = context.layers[number - 1];
  if (printed.kind != LayerKind::normal)
    for (double& time_s : times_s) time_s = printed.time_s(time_s);
  return times_s;
}

namespace {

// Which tiles of a layer some box touches.
class Marks {
 public:
  explicit Marks(const std::vector<BoxVoxels>& boxes, std::uint32_t layer) {
    for (const BoxVoxels& box : boxes)
      if (box.from_layer <= layer && layer <= box.to_layer) mark(box);
  }
  bool none() const { return rows_.empty(); }
  bool meets(std::uint32_t row, std::uint32_t begin, std::uint32_t end) const {
    const auto y = static_cast<std::size_t>(row / tile);
    for (std::size_t x = begin / tile; x <= (end - 1) / tile; ++x)
      if (y < rows_.size() && x < rows_[y].size() && rows_[y][x]) return true;
    return false;
  }
  static constexpr int tile = 32;

 private:
  void mark(const BoxVoxels& box) {
    for (int y = std::max(box.y0, 0) / tile; y <= std::max(box.y1 - 1, 0) / tile; ++y)
      for (int x = std::max(box.x0, 0) / tile; x <= std::max(box.x1 - 1, 0) / tile; ++x) set(x, y);
  }
  void set(int x, int y) {
    const auto row = static_cast<std::size_t>(y), col = static_cast<std::size_t>(x);
    if (rows_.size() <= row) rows_.resize(row + 1);
    if (rows_[row].size() <= col) rows_[row].resize(col + 1);
    rows_[row][col] = true;
  }
  std::vector<std::vector<bool>> rows_;
};

// Solid is lost at times under its critical exposure, a gap from its own on; each may be up to least_z spreads off.
Lots lots_of(Fate fate, const RiskRun& run, const LotRule& rule) {
  const auto critical_s = static_cast<double>(run.critical_s);
  const double margin = std::max(1.0, std::exp(-rule.least_z * static_cast<double>(run.log_sd)));
  const std::uint8_t sure = times_before(rule.times_s, critical_s);
  if (fate == Fate::fuse) return {times_before(rule.times_s, critical_s / margin), sure};
  const auto possible = std::upper_bound(rule.times_s.begin(), rule.times_s.end(), critical_s * margin);
  return {sure, std::max(sure, static_cast<std::uint8_t>(possible - rule.times_s.begin()))};
}

bool stays_always(Fate fate, const Lots& lots, const LotRule& rule) {
  return fate == Fate::vanish ? lots.upper <= rule.first_time : lots.lower == rule.times_s.size();
}

}  // namespace

std::vector<RiskRun> risk_runs(Fate fate, const std::vector<CriticalRun>& runs, const Certainty& certainty,
                               double height_slope, const LotRule& rule, const std::vector<ThinPlace>& thin) {
  std::vector<RiskRun> out;
  out.reserve(runs.size());
  auto place = thin.begin();
  for (const CriticalRun& run : runs) {
    const double sd = certainty.log_sd(fate, static_cast<double>(run.blur_slope),
                                       static_cast<double>(run.depth_slope) + height_slope, run.height_mm > 0);
    const Like like{static_cast<float>(sd), run.blur_slope, INFINITY, run.height_mm};
    RiskRun one{like, run.row, run.begin, run.end, run.critical_s, {}};
    one.lots = lots_of(fate, one, rule);
    if (stays_always(fate, one.lots, rule)) continue;
    while (place != thin.end() && (place->row < run.row || (place->row == run.row && place->col < run.begin))) ++place;
    for (; place != thin.end() && place->row == run.row && place->col < run.end; ++place)
      one.width_mm = std::min(one.width_mm, place->width_mm);
    out.push_back(one);
  }
  return out;
}

PackedRuns::PackedRuns(const std::vector<RiskRun>& runs) {
  if (runs.empty()) return;
  for (const RiskRun& run : runs) columns_ = std::max<std::size_t>(columns_, (run.end - 1) / tile_px + 1);
  std::size_t band = first_band_ = runs.front().row / tile_rows;
  runs_.reserve(runs.size());
  std::vector<std::vector<RiskRun>> tiles(columns_);
  const auto end_band = [&] {
    for (std::vector<RiskRun>& tile : tiles) pack(tile);
    ++band;
  };
  for (RiskRun run : runs) {
    while (band < run.row / tile_rows) end_band();
    for (const std::uint32_t end = run.end; run.begin < end; run.begin = run.end) {
      const std::uint32_t column = run.begin / tile_px;
      run.end = std::min(end, (column + 1) * tile_px);
      tiles[column].push_back(run);
    }
  }
  end_band();
  places_.push_back(end());
  places_.shrink_to_fit();
  runs_.shrink_to_fit();
  likes_.shrink_to_fit();
}

PackedRuns::Place PackedRuns::end() const {
  return {static_cast<std::uint32_t>(runs_.size()), static_cast<std::uint32_t>(likes_.size())};
}

void PackedRuns::pack(std::vector<RiskRun>& tile) {
  places_.push_back(end());
  for (const RiskRun& run : tile) {
    const std::uint32_t place = run.row % tile_rows * tile_px + run.begin % tile_px;
    runs_.push_back({static_cast<std::uint16_t>(place), static_cast<std::uint16_t>(run.end - run.begin), run.lots,
                     index_of(run), run.critical_s});
  }
  tile.clear();
}

// Those of a flat gap are alike, and few gaps of other heights lie between them.
std::uint16_t PackedRuns::index_of(const Like& like) {
  const auto first = likes_.begin() + places_.back().like;
  const auto oldest = std::make_reverse_iterator(likes_.end() - std::min<std::ptrdiff_t>(likes_.end() - first, 16));
  const auto known = std::find(likes_.rbegin(), oldest, like);
  if (known != oldest) return static_cast<std::uint16_t>(known.base() - 1 - first);
  likes_.push_back(like);
  return static_cast<std::uint16_t>(likes_.size() - 1 - places_.back().like);
}

std::uint64_t PackedRuns::bytes() const {
  return places_.capacity() * sizeof(Place) + runs_.capacity() * sizeof(Packed) + likes_.capacity() * sizeof(Like);
}

void PackedRuns::move_to(RunFile& file) {
  if (in_file() || runs_.empty()) return;
  std::vector<std::byte> bytes;
  bytes.reserve(runs_.size() * sizeof(Packed) + likes_.size() * sizeof(Like));
  Tile tile;
  for (std::size_t i = 0; i + 1 < places_.size(); ++i) {
    open(i, tile);
    const auto runs = std::as_bytes(tile.runs), likes = std::as_bytes(tile.likes);
    bytes.insert(bytes.end(), runs.begin(), runs.end());
    bytes.insert(bytes.end(), likes.begin(), likes.end());
  }
  const auto at = file.write(bytes);
  if (!at) return;
  file_ = &file, file_at_ = *at;
  runs_ = std::vector<Packed>();  // {} would keep their room
  likes_ = std::vector<Like>();
}

void PackedRuns::open(std::size_t index, Tile& tile) const {
  const Place from = places_[index], to = places_[index + 1];
  if (!in_file()) {
    tile.runs = std::span(runs_).subspan(from.run, to.run - from.run);
    tile.likes = std::span(likes_).subspan(from.like, to.like - from.like);
    return;
  }
  tile.read_runs.resize(to.run - from.run);
  tile.read_likes.resize(to.like - from.like);
  const std::uint64_t at = file_at_ + from.run * sizeof(Packed) + from.like * sizeof(Like);
  const bool read = file_->read(at, std::as_writable_bytes(std::span(tile.read_runs)),
                                std::as_writable_bytes(std::span(tile.read_likes)));
  tile.runs = read ? std::span<const Packed>(tile.read_runs) : std::span<const Packed>();
  tile.likes = tile.read_likes;
}

namespace {

std::size_t bytes_of(const Mask& mask) {
  return mask.rows.size() * sizeof(RowRange) + mask.spans.size() * sizeof(Span);
}

// What of a mask lies in marked tiles, in whole spans.
Mask marked(const Mask& mask, const Marks& marks) {
  Mask out;
  out.size = mask.size;
  out.rows.reserve(mask.rows.size());
  for (std::uint32_t r = 0; r < mask.rows.size(); ++r) {
    if (r % Marks::tile != 0 && mask.rows[r] == mask.rows[r - 1]) {
      out.rows.push_back(out.rows.back());
      continue;
    }
    const auto first = static_cast<std::uint32_t>(out.spans.size());
    for (const Span& span : mask.row(r))
      if (marks.meets(r, span.begin, span.end)) out.spans.push_back(span);
    out.rows.push_back({first, static_cast<std::uint32_t>(out.spans.size())});
  }
  return out;
}

}  // namespace

void RunStore::add(StoredLayer layer) {
  if (layer.solid) solid_bytes_ += bytes_of(*layer.solid);
  run_bytes_ += layer.vanish.bytes() + layer.fuse.bytes();
  layers_.push_back(std::move(layer));
  while (solid_bytes_ > most_bytes_) move_solid();
  while (run_bytes_ > most_bytes_ && next_runs_ < layers_.size()) move_runs();
}

// They are looked at after the last layer only.
void RunStore::move_runs() {
  StoredLayer& layer = layers_[next_runs_++];
  for (PackedRuns* runs : {&layer.vanish, &layer.fuse}) {
    run_bytes_ -= runs->bytes();
    runs->move_to(*file_);
    run_bytes_ += runs->bytes();
  }
}

Result<void> RunStore::all_read() const {
  if (!file_->damaged()) return {};
  return tl::unexpected(Error{ErrorKind::unreadable, "", "a temporary file cannot be read back",
                              "a disk that gives back what was written",
                              "Name a folder on another disk in TMPDIR, and check the job again."});
}

// The highest goes; where the file does not take it, it can be read again from the archive.
void RunStore::move_solid() {
  StoredLayer& layer = layers_[next_solid_++];
  if (!layer.solid) return;
  const Mask& mask = *layer.solid;
  solid_bytes_ -= bytes_of(mask);
  std::vector<std::byte> bytes(bytes_of(mask));
  const auto rows = std::as_bytes(std::span(mask.rows)), spans = std::as_bytes(std::span(mask.spans));
  std::copy(spans.begin(), spans.end(), std::copy(rows.begin(), rows.end(), bytes.begin()));
  if (const auto at = file_->write(bytes)) layer.filed_solid = FiledMask{mask.size, mask.spans.size(), *at};
  layer.solid.reset();
}

std::shared_ptr<const Mask> RunStore::solid(const StoredLayer& layer) const {
  if (!layer.filed_solid) return layer.solid;
  auto mask = std::make_shared<Mask>();
  mask->size = layer.filed_solid->size;
  mask->rows.resize(mask->size.height_px);
  mask->spans.resize(layer.filed_solid->spans);
  const bool read = file_->read(layer.filed_solid->at, std::as_writable_bytes(std::span(mask->rows)),
                                std::as_writable_bytes(std::span(mask->spans)));
  return read ? mask : nullptr;
}

void RunStore::prune(std::uint32_t number, std::vector<BoxVoxels> run_boxes, std::vector<BoxVoxels> solid_boxes) {
  for (std::vector<BoxVoxels>* boxes : {&run_boxes, &solid_boxes})
    std::erase_if(*boxes, [&](const BoxVoxels& box) { return box.to_layer <= number || box.from_layer >= pruned_to_; });
  for (StoredLayer& layer : layers_) {
    if (layer.number <= number) break;
    if (layer.number >= pruned_to_) continue;
    const Marks run_marks(run_boxes, layer.number), solid_marks(solid_boxes, layer.number);
    for (PackedRuns* runs : {&layer.vanish, &layer.fuse}) {
      if (runs->in_file()) continue;
      run_bytes_ -= runs->bytes();
      std::vector<RiskRun> kept;
      runs->each([&](const RiskRun& run) {
        if (run_marks.meets(run.row, run.begin, run.end)) kept.push_back(run);
      });
      *runs = PackedRuns(kept);
      run_bytes_ += runs->bytes();
    }
    if (!layer.solid) continue;
    solid_bytes_ -= bytes_of(*layer.solid);
    layer.solid = solid_marks.none() ? nullptr : std::make_shared<const Mask>(marked(*layer.solid, solid_marks));
    if (layer.solid) solid_bytes_ += bytes_of(*layer.solid);
  }
  pruned_to_ = std::min(pruned_to_, number + 1);
}

const StoredLayer* RunStore::find(std::uint32_t number) const {
  if (layers_.empty() || number > layers_.front().number || number < layers_.back().number) return nullptr;
  return &layers_[layers_.front().number - number];
}

}  // namespace hairline::risk
