// Discs, parts and distances on the bits of a few boxes. A disc of radius r holds the pixels whose centres are at most
// r away; opening and closing are exact as far as twice the radius inside the solid that is known (Serra 1982, from
// memory).
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdlib>
#include <limits>

#include "closeup.hpp"
#include "envelope.hpp"

namespace hairline {
namespace {

constexpr double part_blurs = 10;    // the box of a part, around its detail's
constexpr double thin_blurs = 4;     // walls that a disc of this radius does not fit in are thin
constexpr double recess_blurs = 10;  // gaps that a disc of this radius does not fit in are recesses
constexpr double weld_blurs = 5;
constexpr double recess_depths = 5;  // in penetration depths: flat recesses are at most this high
constexpr double least_disc_px = 1.5;

double wider_pitch_mm(const CloseupScale& scale) {
  return std::max(scale.pitch.x_mm, scale.pitch.y_mm);
}
double thin_radius_mm(const CloseupScale& scale) {
  return std::max(thin_blurs * scale.blur_mm, least_disc_px * wider_pitch_mm(scale));
}
double recess_radius_mm(const CloseupScale& scale) {
  return std::max(recess_blurs * scale.blur_mm, least_disc_px * wider_pitch_mm(scale));
}

// Heights as far as one empty layer above the top.
double height_mm(const CloseupScale& scale, std::uint32_t layer) {
  return scale.layers[std::min<std::size_t>(layer, scale.layers.size()) - 1].height_mm;
}
double bottom_mm(const CloseupScale& scale, std::uint32_t layer) {
  const PrintedLayer& printed = scale.layers[std::min<std::size_t>(layer, scale.layers.size()) - 1];
  return layer > scale.layers.size() ? printed.bottom_mm + printed.height_mm : printed.bottom_mm;
}
double middle_mm(const CloseupScale& scale, std::uint32_t layer) {
  return bottom_mm(scale, layer) + height_mm(scale, layer) / 2;
}

int pixels_over(double mm, double pitch_mm) {
  return static_cast<int>(std::ceil(mm / pitch_mm - 1e-9));
}

// A box grown on all sides; upwards as far as one layer above the top, downwards as far as the plate.
BoxVoxels grown(BoxVoxels box, double across_mm, double up_mm, const CloseupScale& scale) {
  const int dx = pixels_over(across_mm, scale.pitch.x_mm), dy = pixels_over(across_mm, scale.pitch.y_mm);
  box.x0 -= dx, box.x1 += dx, box.y0 -= dy, box.y1 += dy;
  const double low = bottom_mm(scale, box.from_layer),
               high = bottom_mm(scale, box.to_layer) + height_mm(scale, box.to_layer);
  while (box.from_layer > 1 && low - bottom_mm(scale, box.from_layer) < up_mm - 1e-9) --box.from_layer;
  const auto top = static_cast<std::uint32_t>(scale.layers.size() + 1);
  while (box.to_layer < top && bottom_mm(scale, box.to_layer) + height_mm(scale, box.to_layer) - high < up_mm - 1e-9)
    ++box.to_layer;
  return box;
}

BoxVoxels blurs_around(const BoxVoxels& detail, double blurs, const CloseupScale& scale) {
  return grown(detail, blurs * scale.blur_mm, blurs * scale.blur_mm, scale);
}
BoxVoxels part_box(const BoxVoxels& detail, const CloseupScale& scale) {
  return blurs_around(detail, part_blurs, scale);
}

// ---- one layer: rows of words, `words` to a row ----

struct Plane {
  std::size_t rows = 0, words = 0;
  std::vector<std::uint64_t> bits;
  Plane(std::size_t row_count, std::size_t word_count)
      : rows(row_count), words(word_count), bits(row_count * word_count, 0) {}
  std::uint64_t* row(std::size_t r) { return bits.data() + r * words; }
  const std::uint64_t* row(std::size_t r) const { return bits.data() + r * words; }
};

// out |= in moved by `by` columns both ways.
void or_moved(const std::uint64_t* in, std::size_t words, std::size_t by, std::uint64_t* out) {
  const std::size_t far = by / 64, near = by % 64;
  for (std::size_t w = 0; w < words; ++w) {
    std::uint64_t right = 0, left = 0;
    if (w >= far) right = in[w - far] << near;
    if (near > 0 && w >= far + 1) right |= in[w - far - 1] >> (64 - near);
    if (w + far < words) left = in[w + far] >> near;
    if (near > 0 && w + far + 1 < words) left |= in[w + far + 1] << (64 - near);
    out[w] |= right | left;
  }
}

class Disc {
 public:
  Disc(double radius_mm, Pitch pitch) {
    const double radius = radius_mm * (1 + 1e-9);
    for (int dy = 0; dy * pitch.y_mm <= radius; ++dy) {
      const double rest = radius * radius - dy * pitch.y_mm * dy * pitch.y_mm;
      half_width_.push_back(static_cast<std::size_t>(std::floor(std::sqrt(std::max(rest, 0.0)) / pitch.x_mm)));
    }
  }

  Plane grow(const Plane& in) const {
    Plane out(in.rows, in.words), wide(1, in.words), next(1, in.words);
    for (std::size_t r = 0; r < in.rows; ++r) {
      const std::uint64_t* row = in.row(r);
      if (std::all_of(row, row + in.words, [](std::uint64_t word) { return word == 0; })) continue;
      std::copy_n(row, in.words, wide.row(0));
      std::size_t reach = 0;
      for (std::size_t dy = half_width_.size(); dy-- > 0;) {  // from the narrowest row of the disc
        while (reach < half_width_[dy]) {
          const std::size_t by = std::min(2 * reach + 1, half_width_[dy] - reach);
          next.bits = wide.bits;
          or_moved(wide.row(0), in.words, by, next.row(0));
          std::swap(wide.bits, next.bits);
          reach += by;
        }
        if (r >= dy) join(wide, out.row(r - dy));
        if (dy > 0 && r + dy < in.rows) join(wide, out.row(r + dy));
      }
    }
    return out;
  }
  // Beyond what is known all counts as set.
  Plane shrink(Plane in) const {
    flip(in);
    Plane out = grow(in);
    flip(out);
    return out;
  }

 private:
  static void join(const Plane& from, std::uint64_t* into) {
    for (std::size_t w = 0; w < from.words; ++w) into[w] |= from.bits[w];
  }
  static void flip(Plane& plane) {
    for (std::uint64_t& word : plane.bits) word = ~word;
  }
  std::vector<std::size_t> half_width_;  // by distance in rows
};

Plane layer_of(const VoxelBits& bits, std::uint32_t layer) {
  Plane plane(bits.rows(), bits.words());
  std::copy_n(bits.row(layer, bits.box().y0), plane.bits.size(), plane.bits.begin());
  return plane;
}

// 64 bits of a row from column `at` on; 0 beyond its ends.
std::uint64_t word_at(const std::uint64_t* row, std::size_t words, std::int64_t at) {
  const std::int64_t w = at >= 0 ? at / 64 : -((63 - at) / 64);
  const auto shift = static_cast<std::uint64_t>(at - 64 * w);
  const auto get = [&](std::int64_t i) { return i >= 0 && i < static_cast<std::int64_t>(words) ? row[i] : 0; };
  return shift == 0 ? get(w) : get(w) >> shift | get(w + 1) << (64 - shift);
}

// Clears what the rows' last words have beyond the box.
void keep_inside(VoxelBits& bits) {
  const int rest = (bits.box().x1 - bits.box().x0) % 64;
  if (rest == 0) return;
  for (std::size_t w = bits.words() - 1; w < bits.bits().size(); w += bits.words())
    bits.bits()[w] &= ~std::uint64_t{0} >> (64 - rest);
}

VoxelBits cropped(const VoxelBits& from, const BoxVoxels& box) {
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

void add(VoxelBits& into, const VoxelBits& other) {
  for (std::size_t i = 0; i < into.bits().size(); ++i) into.bits()[i] |= other.bits()[i];
}

// ---- drawn parts ----

void put_layer(const Plane& plane, std::uint32_t layer, VoxelBits& into) {
  std::copy(plane.bits.begin(), plane.bits.end(), into.row(layer, into.box().y0));
}

// Thin part of each layer: what opening takes away.
VoxelBits thin_parts(const VoxelBits& solid, const CloseupScale& scale) {
  const Disc disc(thin_radius_mm(scale), scale.pitch);
  VoxelBits out(solid.box());
  for (std::uint32_t n = solid.box().from_layer; n <= solid.box().to_layer; ++n) {
    Plane layer = layer_of(solid, n);
    const Plane open = disc.grow(disc.shrink(layer));
    for (std::size_t i = 0; i < layer.bits.size(); ++i) layer.bits[i] &= ~open.bits[i];
    put_layer(layer, n, out);
  }
  return out;
}

// Empty columns between solid below and solid above, where they are low enough.
void add_flat_recesses(const VoxelBits& solid, const CloseupScale& scale, VoxelBits& out) {
  struct Open {
    std::uint32_t from;
    Plane columns;
  };
  std::vector<Open> open;
  const BoxVoxels& box = solid.box();
  const double most_mm = recess_depths * scale.penetration_depth_mm + 1e-9;
  for (std::uint32_t n = box.from_layer + 1; n <= box.to_layer; ++n) {
    const std::uint64_t *here = solid.row(n, box.y0), *below = solid.row(n - 1, box.y0);
    std::erase_if(open, [&](Open& one) {
      if (bottom_mm(scale, n) - bottom_mm(scale, one.from) > most_mm) return true;
      for (std::size_t i = 0; i < one.columns.bits.size(); ++i) {
        const std::uint64_t closed = one.columns.bits[i] & here[i];
        if (closed == 0) continue;
        for (std::uint32_t k = one.from; k < n; ++k) out.row(k, box.y0)[i] |= closed;
        one.columns.bits[i] &= ~closed;
      }
      return false;
    });
    Plane fresh(solid.rows(), solid.words());
    for (std::size_t i = 0; i < fresh.bits.size(); ++i) fresh.bits[i] = below[i] & ~here[i];
    open.push_back({n, std::move(fresh)});
  }
}

VoxelBits recesses(const VoxelBits& solid, const CloseupScale& scale) {
  const Disc disc(recess_radius_mm(scale), scale.pitch);
  VoxelBits out(solid.box());
  add_flat_recesses(solid, scale, out);
  for (std::uint32_t n = solid.box().from_layer; n <= solid.box().to_layer; ++n) {
    const Plane layer = layer_of(solid, n);
    const Plane closed = disc.shrink(disc.grow(layer));
    std::uint64_t* into = out.row(n, out.box().y0);
    for (std::size_t i = 0; i < layer.bits.size(); ++i) into[i] |= closed.bits[i] & ~layer.bits[i];
  }
  return out;
}

double volume_mm3(const VoxelBits& bits, const CloseupScale& scale) {
  double volume = 0;
  const std::size_t words = bits.rows() * bits.words();
  for (std::uint32_t n = bits.box().from_layer; n <= bits.box().to_layer; ++n) {
    const std::uint64_t* row = bits.row(n, bits.box().y0);
    std::uint64_t voxels = 0;
    for (std::size_t i = 0; i < words; ++i) voxels += static_cast<std::uint64_t>(std::popcount(row[i]));
    volume += static_cast<double>(voxels) * scale.pitch.pixel_mm2() * height_mm(scale, n);
  }
  return volume;
}

VoxelBits both(VoxelBits a, const VoxelBits& b) {
  for (std::size_t i = 0; i < a.bits().size(); ++i) a.bits()[i] &= b.bits()[i];
  return a;
}

}  // namespace

BoxVoxels lots_box(const BoxVoxels& detail, const CloseupScale& scale) {
  const double around_mm = std::max(part_blurs * scale.blur_mm, scale.least_reach_mm + wider_pitch_mm(scale));
  return grown(detail, around_mm, around_mm, scale);
}

BoxVoxels solid_box(const BoxVoxels& detail, bool vanish, const CloseupScale& scale) {
  const double part_mm = part_blurs * scale.blur_mm, reach_mm = scale.least_reach_mm + wider_pitch_mm(scale);
  const double across_mm = part_mm + 2 * (vanish ? thin_radius_mm(scale) : recess_radius_mm(scale));
  const double up_mm = vanish ? part_mm : part_mm + recess_depths * scale.penetration_depth_mm;
  return grown(detail, std::max(across_mm, reach_mm), std::max(up_mm, reach_mm), scale);
}

BoxVoxels weld_box(const BoxVoxels& detail, const CloseupScale& scale) {
  return blurs_around(detail, weld_blurs, scale);
}

VoxelBits drawn_parts(const VoxelBits& solid, bool vanish, const CloseupScale& scale) {
  return vanish ? thin_parts(solid, scale) : recesses(solid, scale);
}

double share_of_part(const Closeup& at, const CloseupScale& scale, double enough) {
  const BoxVoxels part = part_box(at.box, scale);
  VoxelBits drawn = cropped(at.drawn, part);
  const VoxelBits detail = cropped(at.detail, part);
  add(drawn, detail);
  const double detail_mm3 = volume_mm3(detail, scale);
  if (at.may) {
    const VoxelBits whole = connected(std::move(drawn), at.seed, part);
    return volume_mm3(both(cropped(at.goes, part), whole), scale) / volume_mm3(whole, scale);
  }
  const double most_mm3 = enough > 0 ? 1.001 * detail_mm3 / enough : std::numeric_limits<double>::infinity();
  double whole_mm3 = 0;
  take_connected(drawn, at.seed, part, [&](const VoxelRun& run) {
    whole_mm3 += (run.end - run.begin) * scale.pitch.pixel_mm2() * height_mm(scale, run.layer);
    return whole_mm3 > most_mm3;
  });
  return detail_mm3 / whole_mm3;
}

namespace {

double square(double value) {
  return value * value;
}

// Columns from one of a row to the nearest one that is set; `far` where there is none.
constexpr int far = std::numeric_limits<int>::max();
int columns_to_set(const std::uint64_t* row, int words, int col) {
  const int at = col / 64, bit = col % 64;
  int nearest = far;
  const std::uint64_t left = row[at] << (63 - bit), right = row[at] >> bit;
  if (left != 0) nearest = std::countl_zero(left);
  for (int w = at - 1; left == 0 && w >= 0; --w) {
    if (row[w] == 0) continue;
    nearest = col - (64 * w + 63 - std::countl_zero(row[w]));
    break;
  }
  if (right != 0) return std::min(nearest, std::countr_zero(right));
  for (int w = at + 1; w < words && 64 * w - col < nearest; ++w)
    if (row[w] != 0) return std::min(nearest, 64 * w + std::countr_zero(row[w]) - col);
  return nearest;
}

// Distances to what stays.
class Distances {
 public:
  Distances(const VoxelBits& stays, const CloseupScale& scale)
      : stays_(stays), scale_(scale), last_layer_(stays_.box().from_layer), last_row_(stays_.box().y0) {}

  // Square of the distance from one voxel, mm2; where it is at most `enough`, any upper bound of it under that.
  double nearest(const VoxelPlace& from, double enough) {
    const BoxVoxels& box = stays_.box();
    double best = std::numeric_limits<double>::infinity();
    const double z = middle_mm(scale_, from.layer);
    const auto look_along = [&](std::uint32_t n, int y) {
      ++rows_looked_at_;
      const int dx = columns_to_set(stays_.row(n, y), static_cast<int>(stays_.words()), from.col - box.x0);
      if (dx == far) return;
      const double here = square(middle_mm(scale_, n) - z) + square((y - from.row) * scale_.pitch.y_mm) +
                          square(dx * scale_.pitch.x_mm);
      if (here >= best) return;
      best = here;
      last_layer_ = n, last_row_ = y;
    };
    look_along(last_layer_, last_row_);          // likely a near one again
    const auto look_in = [&](std::uint32_t n) {  // false: nothing nearer can follow
      const double dz2 = square(middle_mm(scale_, n) - z);
      if (dz2 >= best || best <= enough) return false;
      for (int dy = 0; best > enough && dz2 + square(dy * scale_.pitch.y_mm) < best && dy < box.y1 - box.y0; ++dy) {
        for (const int y : {from.row - dy, from.row + dy}) {
          if (y >= box.y0 && y < box.y1) look_along(n, y);
        }
      }
      return true;
    };
    std::uint32_t up = from.layer, down = from.layer;
    bool more_up = look_in(up), more_down = more_up;
    while (more_up || more_down) {
      more_up = more_up && ++up <= box.to_layer && look_in(up);
      more_down = more_down && --down >= box.from_layer && look_in(down);
    }
    return best;
  }
  // Has the search taken longer than working out all distances would take?
  bool is_too_long(const VoxelBits& detail) const {
    const auto columns = static_cast<std::uint64_t>(detail.box().x1 - detail.box().x0);
    return rows_looked_at_ > 4 * columns * stays_.rows() * stays_.layers();
  }

 private:
  const VoxelBits& stays_;
  const CloseupScale& scale_;
  std::uint64_t rows_looked_at_ = 0;
  std::uint32_t last_layer_;  // where the last one was found
  int last_row_;
};

// What stays of the detail's kind around it.
VoxelBits stays_of(const Closeup& at) {
  VoxelBits stays = cropped(at.solid, at.goes.box());
  for (std::size_t i = 0; i < stays.bits().size(); ++i)
    stays.bits()[i] = (at.vanish ? stays.bits()[i] : ~stays.bits()[i]) & ~at.goes.bits()[i];
  keep_inside(stays);
  return stays;
}

// The greatest distance of some voxels in the middle of their rows, so that most others need not be searched to the
// end.
double first_guess(const VoxelBits& detail, Distances& distances, double enough) {
  double greatest = 0;
  const BoxVoxels& own = detail.box();
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; n += 3) {
    for (int y = own.y0; y < own.y1 && greatest < enough && !distances.is_too_long(detail); y += 3) {
      const std::uint64_t* bits = detail.row(n, y);
      for (std::size_t w = 0; w < detail.words(); ++w) {
        if (bits[w] == 0) continue;
        const int middle = (std::countr_zero(bits[w]) + 63 - std::countl_zero(bits[w])) / 2;
        if ((bits[w] >> middle & 1) == 0) continue;
        greatest = std::max(greatest, distances.nearest({n, y, own.x0 + static_cast<int>(w) * 64 + middle}, greatest));
      }
    }
  }
  return greatest;
}

// Square of the greatest distance between its voxels and what stays, mm2; where it is at least `enough` any value from
// that on. Unset where what stays is so far that the search gets too long.
std::optional<double> search_reach_mm2(const VoxelBits& detail, const VoxelBits& stays, const CloseupScale& scale,
                                       double enough) {
  Distances distances(stays, scale);
  const BoxVoxels& own = detail.box();
  double greatest = first_guess(detail, distances, enough);
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n) {
    for (int y = own.y0; y < own.y1 && greatest < enough; ++y) {
      const std::uint64_t* bits = detail.row(n, y);
      int next = own.x0;  // nearer ones to the left of it are no farther than the greatest
      for (std::size_t w = 0; w < detail.words(); ++w) {
        for (std::uint64_t word = bits[w]; word != 0; word &= word - 1) {
          const int col = own.x0 + static_cast<int>(w) * 64 + std::countr_zero(word);
          if (col < next) continue;
          const double nearest = distances.nearest({n, y, col}, greatest);
          greatest = std::max(greatest, nearest);
          if (greatest >= enough) return greatest;
          if (distances.is_too_long(detail)) return std::nullopt;
          next = col + 1 + static_cast<int>((1 - 1e-6) * (std::sqrt(greatest) - std::sqrt(nearest)) / scale.pitch.x_mm);
        }
      }
    }
  }
  return greatest;
}

// The same, to the end: one column of the detail after the other, first over the columns of all rows around it, then
// over the rows, then over the layers.
double transformed_reach_mm2(const VoxelBits& detail, const VoxelBits& stays, const CloseupScale& scale) {
  const BoxVoxels &box = stays.box(), &own = detail.box();
  const int words = static_cast<int>(stays.words());
  std::vector<double> rows_mm, layers_mm;
  for (int y = box.y0; y < box.y1; ++y) rows_mm.push_back(y * scale.pitch.y_mm);
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) layers_mm.push_back(middle_mm(scale, n));
  Envelope over_rows(rows_mm), over_layers(layers_mm);
  std::vector<double> row_mm2(rows_mm.size()), nearest_mm2;
  std::vector<std::vector<double>> column_mm2(detail.rows(), std::vector<double>(layers_mm.size()));  // by own row
  double greatest = 0;
  for (int x = own.x0; x < own.x1; ++x) {
    for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) {
      for (int y = box.y0; y < box.y1; ++y) {
        const int dx = columns_to_set(stays.row(n, y), words, x - box.x0);
        row_mm2[y - box.y0] = dx == far ? INFINITY : square(dx * scale.pitch.x_mm);
      }
      over_rows.transform(row_mm2, nearest_mm2);
      for (int y = own.y0; y < own.y1; ++y) column_mm2[y - own.y0][n - box.from_layer] = nearest_mm2[y - box.y0];
    }
    for (int y = own.y0; y < own.y1; ++y) {
      over_layers.transform(column_mm2[y - own.y0], nearest_mm2);
      for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n)
        if (detail.at(n, y, x)) greatest = std::max(greatest, nearest_mm2[n - box.from_layer]);
    }
  }
  return greatest;
}

}  // namespace

std::optional<double> reach_mm(const Closeup& at, const CloseupScale& scale, double enough_mm) {
  const VoxelBits stays = stays_of(at);
  const auto searched = search_reach_mm2(at.detail, stays, scale, square(enough_mm));
  const double reach_mm2 = searched ? *searched : transformed_reach_mm2(at.detail, stays, scale);
  if (!std::isfinite(reach_mm2)) return std::nullopt;
  return std::sqrt(reach_mm2);
}

namespace {

bool leaves(const VoxelRun& run, const BoxVoxels& box) {
  return (run.layer == box.from_layer && run.layer > 1) || run.layer == box.to_layer || run.row == box.y0 ||
         run.row == box.y1 - 1 || run.begin == box.x0 || run.end == box.x1;
}

// What of `among` shares a face with the detail, inside the box of `among`.
VoxelBits beside(const VoxelBits& wide, const VoxelBits& among) {
  const BoxVoxels& near = among.box();
  const VoxelBits detail = cropped(wide, near);
  VoxelBits touched(near);
  for (std::uint32_t n = near.from_layer; n <= near.to_layer; ++n) {
    for (int y = near.y0; y < near.y1; ++y) {
      std::uint64_t* out = touched.row(n, y);
      or_moved(detail.row(n, y), detail.words(), 1, out);
      const auto take = [&](std::uint32_t layer, int row) {
        const std::uint64_t* from = detail.row(layer, row);
        for (std::size_t w = 0; w < detail.words(); ++w) out[w] |= from[w];
      };
      if (y > near.y0) take(n, y - 1);
      if (y + 1 < near.y1) take(n, y + 1);
      if (n > near.from_layer) take(n - 1, y);
      if (n < near.to_layer) take(n + 1, y);
      for (std::size_t w = 0; w < detail.words(); ++w) out[w] &= among.row(n, y)[w];
    }
  }
  return touched;
}

std::optional<VoxelPlace> first_of(const VoxelBits& bits) {
  const auto at = std::find_if(bits.bits().begin(), bits.bits().end(), [](std::uint64_t word) { return word != 0; });
  if (at == bits.bits().end()) return std::nullopt;
  const auto word = static_cast<std::size_t>(at - bits.bits().begin()), row = word / bits.words();
  return VoxelPlace{bits.box().from_layer + static_cast<std::uint32_t>(row / bits.rows()),
                    bits.box().y0 + static_cast<int>(row % bits.rows()),
                    bits.box().x0 + static_cast<int>(word % bits.words()) * 64 + std::countr_zero(*at)};
}

// Are all of these voxels in one piece?
bool are_joined(const VoxelBits& voxels, VoxelBits among) {
  const auto first = first_of(voxels);
  if (!first) return true;
  std::uint64_t left = voxels.count();
  take_connected(among, *first, among.box(), [&](const VoxelRun& run) { return (left -= voxels.count(run)) == 0; });
  return left == 0;
}

// The boxes of 5 blur around each of the detail's voxels, not only around all of them.
VoxelBits near_detail(const Closeup& at, const BoxVoxels& box, const CloseupScale& scale) {
  VoxelBits out(box);
  const BoxVoxels& own = at.detail.box();
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n) {
    VoxelBits layer({box.x0, box.y0, box.x1, box.y1, n, n});
    BoxVoxels near;
    for (int y = own.y0; y < own.y1; ++y) {
      for (auto run = at.detail.next(n, y, own.x0); run; run = at.detail.next(n, y, run->end)) {
        near = weld_box({run->begin, y, run->end, y + 1, n, n}, scale);
        for (int row = near.y0; row < near.y1; ++row) layer.set(n, row, near.x0, near.x1);
      }
    }
    for (std::uint32_t k = near.from_layer; k <= near.to_layer; ++k) {
      std::uint64_t* to = out.row(k, box.y0);
      for (const std::uint64_t word : layer.bits()) *to++ |= word;
    }
  }
  return out;
}

}  // namespace

bool in_closed_cavity(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels part = part_box(at.box, scale);
  VoxelBits empty = cropped(at.solid, part);
  for (std::uint64_t& word : empty.bits()) word = ~word;
  bool open = false;
  take_connected(empty, at.seed, part, [&](const VoxelRun& run) { return open = leaves(run, part); });
  return !open;
}

bool welds(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels box = weld_box(at.box, scale);
  VoxelBits solid = cropped(at.solid, box);
  const VoxelBits touched = beside(at.detail, solid);
  if (!at.filled.bits().empty()) add(solid, cropped(at.filled, box));
  return !are_joined(touched, both(near_detail(at, box, scale), solid));
}

bool shuts(const Closeup& at, const CloseupScale& scale) {
  VoxelBits open = cropped(stays_of(at), weld_box(at.box, scale));
  VoxelBits touched = beside(at.detail, open);
  if (are_joined(touched, open)) return false;
  int ways = 0;
  for (auto first = first_of(touched); first && ways < 2; first = first_of(touched)) {
    bool goes_on = false;
    take_connected(open, *first, open.box(), [&](const VoxelRun& run) {
      goes_on = goes_on || leaves(run, open.box());
      return false;
    });
    touched = both(std::move(touched), open);
    ways += goes_on;
  }
  return ways == 2;
}

}  // namespace hairline
