// Thin parts and recesses as drawn, by discs on the bits of one layer after the other; opening and closing are exact as
// far as twice the radius inside the solid that is known (Serra 1982, from memory).
#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>

#include "around.hpp"

namespace hairline {

using namespace closeup;

namespace {

// One layer: rows of words, `words` to a row.
struct Plane {
  std::size_t rows = 0, words = 0;
  std::vector<std::uint64_t> bits;
  Plane(std::size_t row_count, std::size_t word_count)
      : rows(row_count), words(word_count), bits(row_count * word_count, 0) {}
  std::uint64_t* row(std::size_t r) { return bits.data() + r * words; }
  const std::uint64_t* row(std::size_t r) const { return bits.data() + r * words; }
};

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

bool is_empty(const Plane& plane) {
  return std::all_of(plane.bits.begin(), plane.bits.end(), [](std::uint64_t word) { return word == 0; });
}

Plane less(Plane a, const Plane& b) {
  for (std::size_t i = 0; i < a.bits.size(); ++i) a.bits[i] &= ~b.bits[i];
  return a;
}

// Adds part_of(layer) of each layer; of those that are alike in turn it is asked once.
template <class PartOf>
void add_parts(const VoxelBits& solid, PartOf part_of, VoxelBits& out) {
  Plane before(0, 0), part(0, 0);
  for (std::uint32_t n = solid.box().from_layer; n <= solid.box().to_layer; ++n) {
    Plane layer = layer_of(solid, n);
    if (layer.bits != before.bits) part = part_of(layer);
    std::uint64_t* into = out.row(n, out.box().y0);
    for (std::size_t i = 0; i < part.bits.size(); ++i) into[i] |= part.bits[i];
    before = std::move(layer);
  }
}

// Thin part of each layer: what opening takes away.
VoxelBits thin_parts(const VoxelBits& solid, const CloseupScale& scale) {
  const Disc disc(thin_radius_mm(scale), scale.pitch);
  VoxelBits out(solid.box());
  add_parts(
      solid, [&](const Plane& layer) { return less(layer, disc.grow(disc.shrink(layer))); }, out);
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
      return is_empty(one.columns);
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
  add_parts(
      solid, [&](const Plane& layer) { return less(disc.shrink(disc.grow(layer)), layer); }, out);
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

}  // namespace

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

}  // namespace hairline
