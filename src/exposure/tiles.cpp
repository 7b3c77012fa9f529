#include "tiles.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::exposure {
namespace {

using Word = std::uint64_t;
constexpr int height = static_cast<int>(tile_h);

// Rows of three tiles side by side, with up to a tile's height more above and below.
struct Rows {
  static constexpr std::size_t most = 3 * tile_h;
  std::array<Word, most> left, middle, right;
};

// Rows [-margin, tile_h + margin) of a tile and its neighbours.
void gather(const Neighbours& bits, int margin, Rows& rows) {
  for (int y = -margin; y < height + margin; ++y) {
    const int band = y < 0 ? 0 : y < height ? 1 : 2;
    const auto at = static_cast<std::size_t>(y - (band - 1) * height), to = static_cast<std::size_t>(y + margin);
    const auto first = static_cast<std::size_t>(3 * band);
    rows.left[to] = (*bits[first])[at];
    rows.middle[to] = (*bits[first + 1])[at];
    rows.right[to] = (*bits[first + 2])[at];
  }
}

// Middle word of each row with every bit spread to `by` columns each way (by < 64).
HAIRLINE_VECTOR_CLONES
void widen(const Word* __restrict left, const Word* __restrict middle, const Word* __restrict right, int rows, int by,
           Word* __restrict out) {
  for (int i = 0; i < rows; ++i) out[i] = middle[i];
  for (int d = 1; d <= by; ++d) {
    for (int i = 0; i < rows; ++i)
      out[i] |= middle[i] << d | left[i] >> (64 - d) | middle[i] >> d | right[i] << (64 - d);
  }
}

HAIRLINE_VECTOR_CLONES
void join_rows(Word* __restrict into, const Word* __restrict above, const Word* __restrict below, int rows) {
  for (int i = 0; i < rows; ++i) into[i] |= above[i] | below[i];
}

// into[i]: bits of rows i .. i + 2 reach_y grown by the disc, for the middle words; `rows` of them.
void grow(const Word* left, const Word* middle, const Word* right, const Disc& disc, int rows, Word* into) {
  std::fill_n(into, rows, Word{0});
  Word wide[Rows::most];
  int made = -1;
  for (int dy = 0; dy <= disc.reach_y && disc.at(dy) >= 0; ++dy) {
    if (disc.at(dy) != made) widen(left, middle, right, rows + 2 * disc.reach_y, disc.at(dy), wide);
    made = disc.at(dy);
    join_rows(into, wide + disc.reach_y - dy, wide + disc.reach_y + dy, rows);
  }
}

constexpr TileBits every_bit() {
  TileBits bits{};
  for (Word& row : bits) row = ~Word{0};
  return bits;
}

}  // namespace

constinit const TileBits all_bits = every_bit();

TileBits Grid::inside(std::uint32_t tx, std::uint32_t ty) const {
  TileBits bits{};
  const std::uint32_t columns = std::min(tile_w, size.width_px - tx * tile_w);
  const std::uint32_t rows = std::min(tile_h, size.height_px - ty * tile_h);
  std::fill_n(bits.begin(), rows, ~Word{0} >> (tile_w - columns));
  return bits;
}

HAIRLINE_VECTOR_CLONES
bool none(const TileBits& bits) {
  Word any = 0;
  for (const Word row : bits) any |= row;
  return any == 0;
}

HAIRLINE_VECTOR_CLONES
bool keep_only(TileBits& bits, const TileBits& others) {
  Word any = 0;
  for (std::size_t y = 0; y < tile_h; ++y) any |= bits[y] &= others[y];
  return any != 0;
}

HAIRLINE_VECTOR_CLONES
bool take_away(TileBits& bits, const TileBits& others) {
  Word any = 0;
  for (std::size_t y = 0; y < tile_h; ++y) any |= bits[y] &= ~others[y];
  return any != 0;
}

HAIRLINE_VECTOR_CLONES
bool meet(const TileBits& a, const TileBits& b) {
  Word any = 0;
  for (std::size_t y = 0; y < tile_h; ++y) any |= a[y] & b[y];
  return any != 0;
}

HAIRLINE_VECTOR_CLONES
void add_to(TileBits& bits, const TileBits& others) {
  for (std::size_t y = 0; y < tile_h; ++y) bits[y] |= others[y];
}

void BitBand::clear(std::uint32_t tiles) {
  slot_.assign(tiles, empty_);
  bits_.clear();
}

void BitBand::set(std::uint32_t tx, const TileBits& bits) {
  if (none(bits)) {
    slot_[tx] = empty_;
  } else if (bits == all_bits) {
    slot_[tx] = full_;
  } else {
    slot_[tx] = static_cast<std::uint32_t>(bits_.size());
    bits_.push_back(bits);
  }
}

Disc make_disc(double radius_mm, Pitch pitch) {
  const double radius = radius_mm * (1 + 1e-9);
  Disc disc;
  disc.reach_y = static_cast<int>(std::floor(radius / pitch.y_mm));
  for (int dy = -disc.reach_y; dy <= disc.reach_y; ++dy) {
    const double rest = radius * radius - dy * pitch.y_mm * dy * pitch.y_mm;
    const int half = rest < 0 ? -1 : static_cast<int>(std::floor(std::sqrt(rest) / pitch.x_mm));
    disc.half_width.push_back(half);
    disc.reach_x = std::max(disc.reach_x, half);
  }
  return disc;
}

TileBits grown(const Neighbours& bits, const Disc& disc) {
  Rows rows;
  gather(bits, disc.reach_y, rows);
  TileBits out;
  grow(rows.left.data(), rows.middle.data(), rows.right.data(), disc, height, out.data());
  return out;
}

TileBits closed(const Neighbours& bits, const Disc& disc) {
  const int margin = disc.reach_y, rows = height + 2 * margin;
  Rows solid;
  gather(bits, 2 * margin, solid);
  // The outer words lack what lies beyond them; within reach of the middle tile nothing is missing.
  const std::array<Word, Rows::most> beyond{};
  Rows big;
  grow(beyond.data(), solid.left.data(), solid.middle.data(), disc, rows, big.left.data());
  grow(solid.left.data(), solid.middle.data(), solid.right.data(), disc, rows, big.middle.data());
  grow(solid.middle.data(), solid.right.data(), beyond.data(), disc, rows, big.right.data());
  for (auto* words : {&big.left, &big.middle, &big.right}) {
    for (int y = 0; y < rows; ++y) (*words)[static_cast<std::size_t>(y)] = ~(*words)[static_cast<std::size_t>(y)];
  }
  TileBits out;
  grow(big.left.data(), big.middle.data(), big.right.data(), disc, height, out.data());
  for (Word& row : out) row = ~row;
  return out;
}

}  // namespace hairline::exposure
