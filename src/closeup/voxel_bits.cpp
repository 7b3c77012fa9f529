#include <algorithm>
#include <bit>
#include <deque>

#include "around.hpp"

namespace hairline {
namespace {

constexpr int word_bits = 64;

// Calls see(word, its bits) for the words that columns [from, to) lie in.
template <class See>
void each_word(int from, int to, See see) {
  while (from < to) {
    const int w = from / word_bits, end = std::min(to, (w + 1) * word_bits);
    see(w, ~std::uint64_t{0} >> (word_bits - (end - from)) << from % word_bits);
    from = end;
  }
}

// The first column from `from` on, and before `to`, whose bit is `wanted`; `to` where there is none.
int next_bit(const std::uint64_t* row, int from, int to, bool wanted) {
  for (int x = from; x < to; x = (x / word_bits + 1) * word_bits) {
    std::uint64_t word = row[x / word_bits];
    if (!wanted) word = ~word;
    word &= ~std::uint64_t{0} << (x % word_bits);
    if (word != 0) return std::min(to, x / word_bits * word_bits + std::countr_zero(word));
  }
  return to;
}

// The first column of the run that `at` lies in.
int run_begin(const std::uint64_t* row, int at, int from) {
  while (at > from) {
    const int w = (at - 1) / word_bits, last = (at - 1) % word_bits;
    const std::uint64_t gaps = ~row[w] & (~std::uint64_t{0} >> (word_bits - 1 - last));
    if (gaps != 0) return std::max(from, w * word_bits + (word_bits - std::countl_zero(gaps)));
    at = w * word_bits;
  }
  return from;
}

// Runs of set bits found from a first one on, and taken out of `left` as they are found.
template <class Stop>
class Flood {
 public:
  Flood(VoxelBits& left, const BoxVoxels& within, Stop stop) : left_(left), within_(within), stop_(stop) {}

  void from(const VoxelPlace& place) {
    reach(place.layer, place.row, place.col, place.col + 1);
    while (!todo_.empty() && !stopped_) {
      const VoxelRun run = todo_.front();
      todo_.pop_front();
      for (const int dr : {-1, 1}) reach(run.layer, run.row + dr, run.begin - 1, run.end + 1);
      reach(run.layer + 1, run.row, run.begin, run.end);
      if (run.layer > 1) reach(run.layer - 1, run.row, run.begin, run.end);
    }
  }

 private:
  // Takes all runs of a row that meet [begin, end).
  void reach(std::uint32_t layer, int row, int begin, int end) {
    if (layer < within_.from_layer || layer > within_.to_layer || row < within_.y0 || row >= within_.y1) return;
    const int x0 = left_.box().x0, from = within_.x0 - x0, to = within_.x1 - x0;
    std::uint64_t* bits = left_.row(layer, row);
    int x = std::max(begin - x0, from);
    const int stop = std::min(end - x0, to);
    while ((x = next_bit(bits, x, stop, true)) < stop) {
      const int first = run_begin(bits, x, from), last = next_bit(bits, x, to, false);
      each_word(first, last, [&](int w, std::uint64_t ones) { bits[w] &= ~ones; });
      todo_.push_back({layer, row, first + x0, last + x0});
      stopped_ = stopped_ || stop_(todo_.back());
      x = last;
    }
  }

  VoxelBits& left_;
  BoxVoxels within_;
  Stop stop_;
  bool stopped_ = false;
  std::deque<VoxelRun> todo_;
};

// 64 bits of a row from column `at` on; 0 beyond its ends.
std::uint64_t word_at(const std::uint64_t* row, std::size_t words, std::int64_t at) {
  const std::int64_t w = at >= 0 ? at / 64 : -((63 - at) / 64);
  const auto shift = static_cast<std::uint64_t>(at - 64 * w);
  const auto get = [&](std::int64_t i) { return i >= 0 && i < static_cast<std::int64_t>(words) ? row[i] : 0; };
  return shift == 0 ? get(w) : get(w) >> shift | get(w + 1) << (64 - shift);
}

}  // namespace

std::uint64_t BoxVoxels::voxels() const {
  if (x1 <= x0 || y1 <= y0 || to_layer < from_layer) return 0;
  return static_cast<std::uint64_t>(x1 - x0) * static_cast<std::uint64_t>(y1 - y0) * (to_layer - from_layer + 1);
}

VoxelBits::VoxelBits(const BoxVoxels& box)
    : box_(box),
      words_((static_cast<std::size_t>(box.x1 - box.x0) + word_bits - 1) / word_bits),
      rows_(static_cast<std::size_t>(box.y1 - box.y0)),
      bits_(words_ * rows_ * layers(), 0) {}

bool VoxelBits::at(std::uint32_t layer, int row, int col) const {
  if (layer < box_.from_layer || layer > box_.to_layer || row < box_.y0 || row >= box_.y1 || col < box_.x0 ||
      col >= box_.x1)
    return false;
  const int x = col - box_.x0;
  return (this->row(layer, row)[x / word_bits] >> (x % word_bits) & 1) != 0;
}

void VoxelBits::set(std::uint32_t layer, int row, std::int64_t begin, std::int64_t end) {
  if (layer < box_.from_layer || layer > box_.to_layer || row < box_.y0 || row >= box_.y1) return;
  const int from = static_cast<int>(std::max<std::int64_t>(begin - box_.x0, 0));
  const int to = static_cast<int>(std::min<std::int64_t>(end - box_.x0, box_.x1 - box_.x0));
  std::uint64_t* bits = this->row(layer, row);
  each_word(from, to, [&](int w, std::uint64_t ones) { bits[w] |= ones; });
}

void VoxelBits::set(std::uint32_t layer, const Mask& mask) {
  const int height = static_cast<int>(mask.rows.size());
  for (int row = std::max(box_.y0, 0); row < std::min(box_.y1, height); ++row) {
    const auto spans = mask.row(static_cast<std::uint32_t>(row));
    auto span = std::lower_bound(spans.begin(), spans.end(), box_.x0,
                                 [](const Span& one, int x) { return static_cast<std::int64_t>(one.end) <= x; });
    for (; span != spans.end() && static_cast<std::int64_t>(span->begin) < box_.x1; ++span)
      set(layer, row, span->begin, span->end);
  }
}

std::uint64_t VoxelBits::count() const {
  std::uint64_t sum = 0;
  for (const std::uint64_t word : bits_) sum += static_cast<std::uint64_t>(std::popcount(word));
  return sum;
}

std::uint64_t VoxelBits::count(const VoxelRun& run) const {
  const std::uint64_t* bits = row(run.layer, run.row);
  std::uint64_t sum = 0;
  each_word(run.begin - box_.x0, run.end - box_.x0,
            [&](int w, std::uint64_t ones) { sum += static_cast<std::uint64_t>(std::popcount(bits[w] & ones)); });
  return sum;
}

bool VoxelBits::any(const VoxelRun& run) const {
  if (run.layer < box_.from_layer || run.layer > box_.to_layer || run.row < box_.y0 || run.row >= box_.y1) return false;
  const int from = std::max(run.begin, box_.x0) - box_.x0, to = std::min(run.end, box_.x1) - box_.x0;
  return from < to && next_bit(row(run.layer, run.row), from, to, true) < to;
}

std::optional<VoxelRun> VoxelBits::next(std::uint32_t layer, int row, int col) const {
  const std::uint64_t* bits = this->row(layer, row);
  const int end = box_.x1 - box_.x0, first = next_bit(bits, std::max(col - box_.x0, 0), end, true);
  if (first >= end) return std::nullopt;
  return VoxelRun{layer, row, first + box_.x0, next_bit(bits, first, end, false) + box_.x0};
}

VoxelBits connected(VoxelBits among, const VoxelPlace& from, const BoxVoxels& within) {
  VoxelBits found(among.box());
  const auto take = [&](const VoxelRun& run) {
    found.set(run.layer, run.row, run.begin, run.end);
    return false;
  };
  Flood(among, within, take).from(from);
  return found;
}

void take_connected(VoxelBits& among, const VoxelPlace& from, const BoxVoxels& within,
                    const std::function<bool(const VoxelRun&)>& stop) {
  Flood(among, within, std::cref(stop)).from(from);
}

void closeup::keep_inside(VoxelBits& bits) {
  const int rest = (bits.box().x1 - bits.box().x0) % 64;
  if (rest == 0) return;
  for (std::size_t w = bits.words() - 1; w < bits.bits().size(); w += bits.words())
    bits.bits()[w] &= ~std::uint64_t{0} >> (64 - rest);
}

VoxelBits closeup::cropped(const VoxelBits& from, const BoxVoxels& box) {
  VoxelBits out(box);
  const std::int64_t shift = std::int64_t{box.x0} - from.box().x0;
  for (std::uint32_t n = std::max(box.from_layer, from.box().from_layer);
       n <= std::min(box.to_layer, from.box().to_layer); ++n) {
    for (int y = std::max(box.y0, from.box().y0); y < std::min(box.y1, from.box().y1); ++y) {
      const std::uint64_t* in = from.row(n, y);
      std::uint64_t* to = out.row(n, y);
      for (std::size_t w = 0; w < out.words(); ++w)
        to[w] = word_at(in, from.words(), shift + static_cast<std::int64_t>(64 * w));
    }
  }
  keep_inside(out);
  return out;
}

void closeup::add(VoxelBits& into, const VoxelBits& other) {
  for (std::size_t i = 0; i < into.bits().size(); ++i) into.bits()[i] |= other.bits()[i];
}

VoxelBits closeup::both(VoxelBits a, const VoxelBits& b) {
  for (std::size_t i = 0; i < a.bits().size(); ++i) a.bits()[i] &= b.bits()[i];
  return a;
}

}  // namespace hairline
