#include "support/slow_twin.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

namespace hairline::twin {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double slack = 1 + 1e-9;  // of every comparison of a distance with a radius

double normal_cdf(double x) {
  return 0.5 * std::erfc(-x / std::numbers::sqrt2);
}

struct Offset {
  int row, col;
};

// All pixels whose centre lies within the radius of a pixel's centre, that pixel included.
std::vector<Offset> disc(double radius_mm, Pitch pitch) {
  const int rows = static_cast<int>(radius_mm / pitch.y_mm) + 1, cols = static_cast<int>(radius_mm / pitch.x_mm) + 1;
  std::vector<Offset> offsets;
  for (int r = -rows; r <= rows; ++r)
    for (int c = -cols; c <= cols; ++c)
      if (std::hypot(r * pitch.y_mm, c * pitch.x_mm) <= radius_mm * slack) offsets.push_back({r, c});
  return offsets;
}

// One dense picture.
struct Picture {
  int rows, cols;
  std::vector<double> values;
  Picture(int row_count, int col_count) : rows(row_count), cols(col_count) {
    values.assign(static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols), 0.0);
  }
  bool inside(int r, int c) const { return r >= 0 && r < rows && c >= 0 && c < cols; }
  double& at(int r, int c) { return values[static_cast<std::size_t>(r) * cols + c]; }
  double at(int r, int c) const { return values[static_cast<std::size_t>(r) * cols + c]; }
};

Picture blur_gaussian(const Picture& mask, const CureModel& model, Pitch pitch) {
  const std::vector<double> across = gaussian_weights(model.blur_mm, pitch.x_mm);
  const std::vector<double> down = gaussian_weights(model.blur_mm, pitch.y_mm);
  const int across_radius = static_cast<int>(across.size() / 2), down_radius = static_cast<int>(down.size() / 2);
  Picture half(mask.rows, mask.cols), light(mask.rows, mask.cols);
  for (int r = 0; r < mask.rows; ++r)
    for (int c = 0; c < mask.cols; ++c)
      for (int k = -across_radius; k <= across_radius; ++k)
        if (mask.inside(r, c + k))
          half.at(r, c) += across[static_cast<std::size_t>(k + across_radius)] * mask.at(r, c + k);
  for (int r = 0; r < mask.rows; ++r)
    for (int c = 0; c < mask.cols; ++c)
      for (int k = -down_radius; k <= down_radius; ++k)
        if (mask.inside(r + k, c))
          light.at(r, c) += down[static_cast<std::size_t>(k + down_radius)] * half.at(r + k, c);
  return light;
}

// Every pixel lights every other: the tails are too heavy to cut.
Picture blur_lorentzian(const Picture& mask, const CureModel& model, Pitch pitch) {
  Picture weights(mask.rows, mask.cols), light(mask.rows, mask.cols);
  for (int r = 0; r < mask.rows; ++r)
    for (int c = 0; c < mask.cols; ++c) weights.at(r, c) = lorentzian_weight(model.blur_mm, pitch, r, c);
  for (int from_r = 0; from_r < mask.rows; ++from_r)
    for (int from_c = 0; from_c < mask.cols; ++from_c) {
      const double value = mask.at(from_r, from_c);
      if (value == 0) continue;
      for (int r = 0; r < mask.rows; ++r)
        for (int c = 0; c < mask.cols; ++c)
          light.at(r, c) += value * weights.at(std::abs(r - from_r), std::abs(c - from_c));
    }
  return light;
}

Picture blur(const Picture& mask, const CureModel& model, Pitch pitch) {
  return model.blur_shape == BlurShape::gaussian ? blur_gaussian(mask, model, pitch)
                                                 : blur_lorentzian(mask, model, pitch);
}

Picture mask_of(const Layer& layer) {
  const std::vector<std::uint8_t> pixels = decode(layer);
  Picture mask(static_cast<int>(layer.size.height_px), static_cast<int>(layer.size.width_px));
  for (std::size_t i = 0; i < pixels.size(); ++i) mask.values[i] = pixels[i] / 255.0;
  return mask;
}

template <class T>
Picture picture_of(const Volume<T>& volume, std::uint32_t layer) {
  Picture picture(static_cast<int>(volume.rows), static_cast<int>(volume.cols));
  for (std::size_t i = 0; i < picture.values.size(); ++i)
    picture.values[i] = static_cast<double>(volume.values[volume.index(layer, 0, 0) + i]);
  return picture;
}

// Greatest (sign 1) or least (sign -1) value over the pixels within the disc that lie in the image and in `among`;
// computed only where `among` holds, 0 elsewhere.
Picture extreme_nearby(const Picture& values, const Picture& among, const std::vector<Offset>& offsets, double sign) {
  Picture out(values.rows, values.cols);
  for (int r = 0; r < values.rows; ++r)
    for (int c = 0; c < values.cols; ++c) {
      if (among.at(r, c) == 0) continue;
      double best = -infinity;
      for (const Offset& o : offsets)
        if (values.inside(r + o.row, c + o.col) && among.at(r + o.row, c + o.col) != 0)
          best = std::max(best, sign * values.at(r + o.row, c + o.col));
      out.at(r, c) = sign * best;
    }
  return out;
}

// Closing on the infinite plane, where everything outside the image is empty: the picture is padded so far that no disc
// around a pixel of the image leaves the dilated picture.
Picture close_by_disc(const Picture& solid, const std::vector<Offset>& offsets) {
  int pad = 0;
  for (const Offset& o : offsets) pad = std::max({pad, std::abs(o.row), std::abs(o.col)});
  Picture dilated(solid.rows + 2 * pad, solid.cols + 2 * pad), closed(solid.rows, solid.cols);
  for (int r = 0; r < solid.rows; ++r)
    for (int c = 0; c < solid.cols; ++c)
      if (solid.at(r, c) != 0)
        for (const Offset& o : offsets) dilated.at(r + pad + o.row, c + pad + o.col) = 1;
  for (int r = 0; r < solid.rows; ++r)
    for (int c = 0; c < solid.cols; ++c)
      closed.at(r, c) = std::all_of(offsets.begin(), offsets.end(),
                                    [&](const Offset& o) { return dilated.at(r + pad + o.row, c + pad + o.col) != 0; });
  return closed;
}

double bond_time_at(const CureModel& model, double height_mm) {
  return model.bond_time_s * std::exp((height_mm - model.layer_height_mm) / model.penetration_depth_mm);
}

// What settled light has to reach, in seconds of full light.
double fuse_threshold_at(const CureModel& model, double height_mm) {
  const double a_record = std::exp(-model.layer_height_mm / model.penetration_depth_mm);
  const double scaled =
      model.fuse_time_s * std::exp((height_mm - model.layer_height_mm) / (2 * model.penetration_depth_mm));
  return scaled / (1 - a_record);
}

void cast_light(const Input& input, Exposed& out) {
  for (std::uint32_t n = 0; n < out.solid.layers; ++n) {
    const std::vector<std::uint8_t> pixels = decode(input.layers[n]);
    const std::size_t first = out.solid.index(n, 0, 0);
    if (n > 0 && pixels == decode(input.layers[n - 1])) {
      for (std::size_t i = 0; i < pixels.size(); ++i) {
        out.solid.values[first + i] = out.solid.values[first - pixels.size() + i];
        out.light.values[first + i] = out.light.values[first - pixels.size() + i];
      }
      continue;
    }
    for (std::size_t i = 0; i < pixels.size(); ++i) out.solid.values[first + i] = pixels[i] >= 128;
    const Picture light = blur(mask_of(input.layers[n]), input.model, input.pitch);
    std::copy(light.values.begin(), light.values.end(), out.light.values.begin() + static_cast<std::ptrdiff_t>(first));
  }
}

void settle_light(const Input& input, Exposed& out) {
  for (std::uint32_t n = out.light.layers; n-- > 0;) {
    const PrintedLayer& printed = input.plans[n];
    const bool normal = printed.kind == LayerKind::normal;
    for (std::uint32_t r = 0; r < out.light.rows; ++r)
      for (std::uint32_t c = 0; c < out.light.cols; ++c) {
        double fixed = 0, per_s = 0;
        if (n + 1 < out.light.layers) {
          const double passes = std::exp(-input.plans[n + 1].height_mm / input.model.penetration_depth_mm);
          fixed = passes * out.settled_fixed.at(n + 1, r, c);
          per_s = passes * out.settled_per_s.at(n + 1, r, c);
        }
        if (normal) per_s += printed.factor * out.light.at(n, r, c);
        if (!normal) fixed += printed.exposure_s * out.light.at(n, r, c);
        out.settled_fixed.at(n, r, c) = fixed;
        out.settled_per_s.at(n, r, c) = per_s;
      }
  }
}

void find_vanishing(const Input& input, Exposed& out) {
  const std::vector<Offset> near = disc(3 * input.model.blur_mm, input.pitch);
  for (std::uint32_t n = 0; n < out.solid.layers; ++n) {
    const PrintedLayer& printed = input.plans[n];
    const bool normal = printed.kind == LayerKind::normal;
    const double bond_s = bond_time_at(input.model, printed.height_mm);
    const Picture solid = picture_of(out.solid, n);
    const Picture brightest = extreme_nearby(picture_of(out.light, n), solid, near, 1);
    const Picture greatest = extreme_nearby(mask_of(input.layers[n]), solid, near, 1);
    for (std::size_t i = 0; i < solid.values.size(); ++i) {
      if (solid.values[i] == 0) continue;
      const std::size_t voxel = out.solid.index(n, 0, 0) + i;
      const double light = brightest.values[i], value = greatest.values[i];
      if (light >= 0.98 * value && value >= 0.9) {
        out.bulk.values[voxel] = 1;
        continue;
      }
      out.thin.values[voxel] = 1;
      out.vanish_s.values[voxel] = bond_s / ((normal ? printed.factor : 1) * light);
      out.lost.values[voxel] = (normal ? input.exposure_s : printed.exposure_s) < out.vanish_s.values[voxel];
      if (!normal && out.lost.values[voxel]) out.base_vanish_mm3 += input.pitch.pixel_mm2() * printed.height_mm;
    }
  }
}

// The normal exposure from which settled light reaches the threshold.
double exposure_to_reach(double threshold, double fixed, double per_s) {
  if (fixed >= threshold) return 0;
  return per_s > 0 ? (threshold - fixed) / per_s : infinity;
}

// Upright narrow gaps of one layer. In a base layer the darkest spot is looked for at the judged exposure.
void find_narrow_gaps(const Input& input, std::uint32_t n, Exposed& out) {
  const PrintedLayer& printed = input.plans[n];
  const Picture solid = picture_of(out.solid, n);
  Picture empty(solid.rows, solid.cols), settled(solid.rows, solid.cols);
  for (std::size_t i = 0; i < empty.values.size(); ++i) {
    const std::size_t voxel = out.solid.index(n, 0, 0) + i;
    empty.values[i] = solid.values[i] == 0;
    settled.values[i] = printed.kind == LayerKind::normal
                            ? out.settled_per_s.values[voxel]
                            : out.settled_fixed.values[voxel] + input.exposure_s * out.settled_per_s.values[voxel];
  }
  const double wider_mm = std::max(input.pitch.x_mm, input.pitch.y_mm);
  const double radius_mm = std::max(2 * input.model.blur_mm + wider_mm / 2, wider_mm);
  const Picture closed = close_by_disc(solid, disc(radius_mm, input.pitch));
  const Picture darkest = extreme_nearby(settled, empty, disc(3 * input.model.blur_mm, input.pitch), -1);
  const double threshold = fuse_threshold_at(input.model, printed.height_mm);
  for (std::size_t i = 0; i < empty.values.size(); ++i) {
    const std::size_t voxel = out.solid.index(n, 0, 0) + i;
    if (closed.values[i] == 0 || empty.values[i] == 0) continue;
    out.narrow.values[voxel] = 1;
    if (printed.kind == LayerKind::normal) {
      out.fuse_s.values[voxel] = exposure_to_reach(threshold, 0, darkest.values[i]);
    } else {
      out.lost.values[voxel] = darkest.values[i] >= threshold;
    }
  }
}

struct FlatGap {
  std::uint32_t from = 0, to = 0;  // layer indices, inclusive
  double height_mm = 0;
};

double flat_threshold_at(const CureModel& model, double height_mm) {
  return fuse_threshold_at(model, height_mm) * model.flat_time_s.value_or(model.fuse_time_s) / model.fuse_time_s;
}

// Runs of empty voxels of one column with solid directly below and above; also those over the plate.
std::vector<FlatGap> flat_gaps(const Input& input, const Exposed& out, std::uint32_t r, std::uint32_t c) {
  std::vector<FlatGap> gaps;
  for (std::uint32_t n = 0; n + 1 < out.solid.layers; ++n) {
    if (out.solid.at(n, r, c) || (n > 0 && !out.solid.at(n - 1, r, c))) continue;
    FlatGap gap{n, n, 0};
    while (gap.to + 1 < out.solid.layers && !out.solid.at(gap.to + 1, r, c)) ++gap.to;
    if (gap.to + 1 == out.solid.layers) continue;  // open to the top
    for (std::uint32_t k = gap.from; k <= gap.to; ++k) gap.height_mm += input.plans[k].height_mm;
    if (gap.height_mm <= 4 * input.model.penetration_depth_mm + 1e-9) gaps.push_back(gap);
  }
  return gaps;
}

// Per empty voxel: the exposure at which a flat gap that begins there fills. All empty voxels of the layer within 3
// blur have to be reached by the light.
Volume<double> flat_critical(const Input& input, const Exposed& out) {
  Volume<double> critical_s(out.solid.layers, input.layers[0].size, infinity);
  for (std::uint32_t n = 0; n < out.solid.layers; ++n) {
    const double threshold = flat_threshold_at(input.model, input.plans[n].height_mm);
    const std::size_t first = out.solid.index(n, 0, 0);
    Picture empty = picture_of(out.solid, n), needed(empty.rows, empty.cols);
    for (std::size_t i = 0; i < empty.values.size(); ++i) {
      empty.values[i] = empty.values[i] == 0;
      needed.values[i] =
          exposure_to_reach(threshold, out.settled_fixed.values[first + i], out.settled_per_s.values[first + i]);
    }
    const Picture latest = extreme_nearby(needed, empty, disc(3 * input.model.blur_mm, input.pitch), 1);
    std::copy(latest.values.begin(), latest.values.end(),
              critical_s.values.begin() + static_cast<std::ptrdiff_t>(first));
  }
  return critical_s;
}

// Fills in the voxels of one flat gap, and the solid on it. A gap that the base's own light fills at any normal
// exposure belongs to the base as a whole; one over the plate is no gap of the print, but props what stands on it.
void judge_flat_gap(const Input& input, const FlatGap& gap, double critical_s, std::uint32_t r, std::uint32_t c,
                    Exposed& out, Volume<std::uint8_t>& filled_by_base) {
  if (input.exposure_s >= critical_s) out.propped.at(gap.to + 1, r, c) = 1;
  if (gap.from == 0) return;
  for (std::uint32_t k = gap.from; k <= gap.to; ++k) {
    if (input.plans[k].kind != LayerKind::normal) {
      if (input.exposure_s >= critical_s) out.lost.at(k, r, c) = 1;
    } else if (critical_s == 0) {
      filled_by_base.at(k, r, c) = 1;
    } else if (critical_s < out.fuse_s.at(k, r, c)) {
      out.fuse_s.at(k, r, c) = critical_s;
      out.flat_height_mm.at(k, r, c) = gap.height_mm;
    }
  }
}

void find_fusing(const Input& input, Exposed& out) {
  for (std::uint32_t n = 0; n < out.solid.layers; ++n) find_narrow_gaps(input, n, out);
  Volume<std::uint8_t> filled_by_base(out.solid.layers, input.layers[0].size, 0);
  const Volume<double> critical_s = flat_critical(input, out);
  for (std::uint32_t r = 0; r < out.solid.rows; ++r)
    for (std::uint32_t c = 0; c < out.solid.cols; ++c)
      for (const FlatGap& gap : flat_gaps(input, out, r, c))
        judge_flat_gap(input, gap, critical_s.at(gap.from, r, c), r, c, out, filled_by_base);

  for (std::uint32_t n = 0; n < out.solid.layers; ++n)
    for (std::uint32_t r = 0; r < out.solid.rows; ++r)
      for (std::uint32_t c = 0; c < out.solid.cols; ++c) {
        if (out.solid.at(n, r, c)) continue;
        const double voxel_mm3 = input.pitch.pixel_mm2() * input.plans[n].height_mm;
        if (filled_by_base.at(n, r, c)) {
          out.fuse_s.at(n, r, c) = infinity;  // takes no part in the sweep
          out.lost.at(n, r, c) = 1;
          out.base_fuse_mm3 += voxel_mm3;
        } else if (input.plans[n].kind == LayerKind::normal) {
          out.lost.at(n, r, c) = input.exposure_s >= out.fuse_s.at(n, r, c);
        } else if (out.lost.at(n, r, c)) {
          out.base_fuse_mm3 += voxel_mm3;
        }
      }
}

}  // namespace

std::vector<double> gaussian_weights(double blur_mm, double pitch_mm) {
  const int radius = static_cast<int>(std::ceil(5 * blur_mm / pitch_mm));
  std::vector<double> weights;
  for (int k = -radius; k <= radius; ++k)
    weights.push_back(normal_cdf((k + 0.5) * pitch_mm / blur_mm) - normal_cdf((k - 0.5) * pitch_mm / blur_mm));
  return weights;
}

double lorentzian_weight(double blur_mm, Pitch pitch, long rows, long cols) {
  // Integral of g0 / (2 pi (x^2 + y^2 + g0^2)^1.5) from the origin to (x, y).
  const auto corner = [&](double x, double y) {
    return std::atan(x * y / (blur_mm * std::sqrt(x * x + y * y + blur_mm * blur_mm))) / (2 * std::numbers::pi);
  };
  const double x0 = (static_cast<double>(cols) - 0.5) * pitch.x_mm, x1 = x0 + pitch.x_mm;
  const double y0 = (static_cast<double>(rows) - 0.5) * pitch.y_mm, y1 = y0 + pitch.y_mm;
  return corner(x1, y1) - corner(x0, y1) - corner(x1, y0) + corner(x0, y0);
}

Exposed expose(const Input& input) {
  const auto count = static_cast<std::uint32_t>(input.layers.size());
  const Size size = input.layers.at(0).size;
  Exposed out;
  out.solid = out.thin = out.bulk = out.narrow = out.propped = out.lost = Volume<std::uint8_t>(count, size, 0);
  out.light = out.settled_fixed = out.settled_per_s = out.vanish_s = out.flat_height_mm =
      Volume<double>(count, size, 0.0);
  out.fuse_s = Volume<double>(count, size, infinity);
  cast_light(input, out);
  settle_light(input, out);
  find_vanishing(input, out);
  find_fusing(input, out);
  return out;
}

}  // namespace hairline::twin
