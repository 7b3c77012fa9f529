#include "run_store.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::risk {
namespace {

std::uint8_t times_before(const std::vector<double>& times_s, double time_s) {  // strictly
  return static_cast<std::uint8_t>(std::lower_bound(times_s.begin(), times_s.end(), time_s) - times_s.begin());
}

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
    RiskRun one{run.row,  run.begin,     run.end, run.critical_s, static_cast<float>(sd), run.blur_slope,
                INFINITY, run.height_mm, {}};
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
  for (const RiskRun& run : runs) {
    for (std::uint32_t begin = run.begin, end = 0; begin < run.end; begin = end) {
      const std::size_t b = begin / block_px;
      end = std::min(run.end, static_cast<std::uint32_t>(b + 1) * block_px);
      if (blocks_.size() <= b) blocks_.resize(b + 1);
      Block& block = blocks_[b];
      if (block.runs.empty()) block.first_row = run.row;
      const std::uint32_t like = block.like_of(run);
      block.rows.resize(run.row - block.first_row + 1, static_cast<std::uint32_t>(block.runs.size()));
      block.runs.push_back({begin, static_cast<std::uint16_t>(end - begin), run.lots, run.critical_s, like});
    }
  }
  for (Block& block : blocks_) {
    block.rows.push_back(static_cast<std::uint32_t>(block.runs.size()));
    block.rows.shrink_to_fit();
    block.runs.shrink_to_fit();
    block.likes.shrink_to_fit();
  }
}

// Those of a flat gap are alike, and few gaps of other heights lie between them.
std::uint32_t PackedRuns::Block::like_of(const RiskRun& run) {
  const Like like{run.log_sd, run.blur_slope, run.width_mm, run.height_mm};
  const auto oldest = likes.rend() - likes.rbegin() > 16 ? likes.rbegin() + 16 : likes.rend();
  const auto known = std::find(likes.rbegin(), oldest, like);
  if (known != oldest) return static_cast<std::uint32_t>(likes.rend() - known - 1);
  likes.push_back(like);
  return static_cast<std::uint32_t>(likes.size() - 1);
}

std::uint64_t PackedRuns::bytes() const {
  std::uint64_t bytes = blocks_.capacity() * sizeof(Block);
  for (const Block& block : blocks_)
    bytes += block.rows.capacity() * sizeof(std::uint32_t) + block.runs.capacity() * sizeof(Packed) +
             block.likes.capacity() * sizeof(Like);
  return bytes;
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

constexpr std::size_t most_whole_bytes = std::size_t{64} << 20;

}  // namespace

void RunStore::add(StoredLayer layer) {
  if (layer.solid) whole_bytes_ += bytes_of(*layer.solid);
  run_bytes_ += layer.vanish.bytes() + layer.fuse.bytes();
  layers_.push_back(std::move(layer));
  while (whole_bytes_ > most_whole_bytes) drop_solid();
}

// The highest solid that has not been looked through goes: it can be read again.
void RunStore::drop_solid() {
  while (layers_[next_dropped_].number >= pruned_to_ || !layers_[next_dropped_].solid) ++next_dropped_;
  whole_bytes_ -= bytes_of(*layers_[next_dropped_].solid);
  layers_[next_dropped_].solid.reset();
}

void RunStore::prune(std::uint32_t number, const std::vector<BoxVoxels>& run_boxes,
                     const std::vector<BoxVoxels>& solid_boxes) {
  for (StoredLayer& layer : layers_) {
    if (layer.number <= number) break;
    if (layer.number >= pruned_to_) continue;
    const Marks run_marks(run_boxes, layer.number), solid_marks(solid_boxes, layer.number);
    for (PackedRuns* runs : {&layer.vanish, &layer.fuse}) {
      run_bytes_ -= runs->bytes();
      std::vector<RiskRun> kept;
      runs->each([&](const RiskRun& run) {
        if (run_marks.meets(run.row, run.begin, run.end)) kept.push_back(run);
      });
      *runs = PackedRuns(kept);
      run_bytes_ += runs->bytes();
    }
    if (!layer.solid) continue;
    whole_bytes_ -= bytes_of(*layer.solid);
    layer.solid = solid_marks.none() ? nullptr : std::make_shared<const Mask>(marked(*layer.solid, solid_marks));
  }
  pruned_to_ = std::min(pruned_to_, number + 1);
}

const StoredLayer* RunStore::find(std::uint32_t number) const {
  if (layers_.empty() || number > layers_.front().number || number < layers_.back().number) return nullptr;
  return &layers_[layers_.front().number - number];
}

}  // namespace hairline::risk
