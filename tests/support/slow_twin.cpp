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
    Picture mask(static_cast<int>(out.solid.rows), static_cast<int>(out.solid.cols));
    for (std::size_t i = 0; i < pixels.size(); ++i) {
      mask.values[i] = pixels[i] / 255.0;
      out.solid.values[first + i] = pixels[i] >= 128;
    }
    const Picture light = blur(mask, input.model, input.pitch);
    std::copy(light.values.begin(), light.values.end(), out.light.values.begin() + static_cast<std::ptrdiff_t>(first));
  }
}

void settle_light(const Input& input, Exposed& out) {
  for (std::uint32_t n = out.light.layers; n-- > 0;) {
    const LayerPlan& plan = input.plans[n];
    const bool normal = plan.kind == LayerKind::normal;
    for (std::uint32_t r = 0; r < out.light.rows; ++r)
      for (std::uint32_t c = 0; c < out.light.cols; ++c) {
        double fixed = 0, per_s = 0;
        if (n + 1 < out.light.layers) {
          const double passes = std::exp(-input.plans[n + 1].height_mm / input.model.penetration_depth_mm);
          fixed = passes * out.settled_fixed.at(n + 1, r, c);
          per_s = passes * out.settled_per_s.at(n + 1, r, c);
        }
        if (normal) per_s += plan.factor * out.light.at(n, r, c);
        if (!normal) fixed += plan.exposure_s * out.light.at(n, r, c);
        out.settled_fixed.at(n, r, c) = fixed;
        out.settled_per_s.at(n, r, c) = per_s;
      }
  }
}

void find_vanishing(const Input& input, Exposed& out) {
  const std::vector<Offset> near = disc(3 * input.model.blur_mm, input.pitch);
  for (std::uint32_t n = 0; n < out.solid.layers; ++n) {
    const LayerPlan& plan = input.plans[n];
    const double bond_s = bond_time_at(input.model, plan.height_mm);
    const Picture brightest = extreme_nearby(picture_of(out.light, n), picture_of(out.solid, n), near, 1);
    for (std::uint32_t r = 0; r < out.solid.rows; ++r)
      for (std::uint32_t c = 0; c < out.solid.cols; ++c) {
        if (!out.solid.at(n, r, c)) continue;
        const double light = brightest.at(static_cast<int>(r), static_cast<int>(c));
        if (plan.kind == LayerKind::normal) {
          out.vanish_s.at(n, r, c) = bond_s / (plan.factor * light);
          out.lost.at(n, r, c) = input.exposure_s < out.vanish_s.at(n, r, c);
        } else if (plan.exposure_s * light < bond_s) {
          out.lost.at(n, r, c) = 1;
          out.base_vanish_mm3 += input.pitch.pixel_mm2() * plan.height_mm;
        }
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
  const LayerPlan& plan = input.plans[n];
  const Picture solid = picture_of(out.solid, n);
  Picture empty(solid.rows, solid.cols), settled(solid.rows, solid.cols);
  for (std::size_t i = 0; i < empty.values.size(); ++i) {
    const std::size_t voxel = out.solid.index(n, 0, 0) + i;
    empty.values[i] = solid.values[i] == 0;
    settled.values[i] = plan.kind == LayerKind::normal
                            ? out.settled_per_s.values[voxel]
                            : out.settled_fixed.values[voxel] + input.exposure_s * out.settled_per_s.values[voxel];
  }
  const Picture closed = close_by_disc(solid, disc(2 * input.model.blur_mm, input.pitch));
  const Picture darkest = extreme_nearby(settled, empty, disc(3 * input.model.blur_mm, input.pitch), -1);
  const double threshold = fuse_threshold_at(input.model, plan.height_mm);
  for (std::size_t i = 0; i < empty.values.size(); ++i) {
    const std::size_t voxel = out.solid.index(n, 0, 0) + i;
    if (closed.values[i] == 0 || empty.values[i] == 0) continue;
    out.narrow.values[voxel] = 1;
    if (plan.kind == LayerKind::normal) {
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

// Runs of empty voxels of one column with solid directly below and above.
std::vector<FlatGap> flat_gaps(const Input& input, const Exposed& out, std::uint32_t r, std::uint32_t c) {
  std::vector<FlatGap> gaps;
  for (std::uint32_t n = 1; n + 1 < out.solid.layers; ++n) {
    if (out.solid.at(n, r, c) || !out.solid.at(n - 1, r, c)) continue;
    FlatGap gap{n, n, 0};
    while (gap.to + 1 < out.solid.layers && !out.solid.at(gap.to + 1, r, c)) ++gap.to;
    if (gap.to + 1 == out.solid.layers) continue;  // open to the top
    for (std::uint32_t k = gap.from; k <= gap.to; ++k) gap.height_mm += input.plans[k].height_mm;
    if (gap.height_mm <= 4 * input.model.penetration_depth_mm + 1e-9) gaps.push_back(gap);
  }
  return gaps;
}

// Fills in the voxels of one flat gap. A gap that the base's own light fills at any normal exposure belongs to the base
// as a whole.
void judge_flat_gap(const Input& input, const FlatGap& gap, std::uint32_t r, std::uint32_t c, Exposed& out,
                    Volume<std::uint8_t>& filled_by_base) {
  const double critical_s =
      exposure_to_reach(fuse_threshold_at(input.model, input.plans[gap.from].height_mm),
                        out.settled_fixed.at(gap.from, r, c), out.settled_per_s.at(gap.from, r, c));
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
  for (std::uint32_t r = 0; r < out.solid.rows; ++r)
    for (std::uint32_t c = 0; c < out.solid.cols; ++c)
      for (const FlatGap& gap : flat_gaps(input, out, r, c)) judge_flat_gap(input, gap, r, c, out, filled_by_base);

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

// ln(how far past the critical exposure, in the direction of loss) over the spread, as a chance.
double chance_of_loss(double log_margin, double spread) {
  if (spread > 0) return normal_cdf(log_margin / spread);
  return log_margin >= 0 ? 1 : 0;
}

struct Voxel {
  std::uint32_t layer, row, col;
};

// Neighbours: the 8 in the same layer, and the voxels straight above and below.
std::vector<Voxel> flood(const Volume<std::uint8_t>& at_risk, Volume<std::uint8_t>& seen, Voxel start) {
  std::vector<Voxel> body{start};
  seen.at(start.layer, start.row, start.col) = 1;
  for (std::size_t next = 0; next < body.size(); ++next) {
    const Voxel v = body[next];
    for (int dl = -1; dl <= 1; ++dl)
      for (int dr = -1; dr <= 1; ++dr)
        for (int dc = -1; dc <= 1; ++dc) {
          if (dl != 0 && (dr != 0 || dc != 0)) continue;
          const std::int64_t l = std::int64_t{v.layer} + dl, r = std::int64_t{v.row} + dr, c = std::int64_t{v.col} + dc;
          if (l < 0 || r < 0 || c < 0 || l >= at_risk.layers || r >= at_risk.rows || c >= at_risk.cols) continue;
          const Voxel w{static_cast<std::uint32_t>(l), static_cast<std::uint32_t>(r), static_cast<std::uint32_t>(c)};
          if (!at_risk.at(w.layer, w.row, w.col) || seen.at(w.layer, w.row, w.col)) continue;
          seen.at(w.layer, w.row, w.col) = 1;
          body.push_back(w);
        }
  }
  return body;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

Detail describe(const Input& input, const Exposed& exposed, bool vanish, const std::vector<Voxel>& body) {
  Detail detail;
  detail.vanish = vanish;
  detail.voxels = body.size();
  std::uint32_t from = body[0].layer, to = body[0].layer;
  std::uint64_t lost = 0;
  std::vector<double> criticals;
  for (const Voxel& v : body) {
    from = std::min(from, v.layer);
    to = std::max(to, v.layer);
    detail.box = join(detail.box, {v.col, v.row, v.col + 1, v.row + 1});
    detail.volume_mm3 += input.pitch.pixel_mm2() * input.plans[v.layer].height_mm;
    lost += exposed.lost.at(v.layer, v.row, v.col);
    criticals.push_back((vanish ? exposed.vanish_s : exposed.fuse_s).at(v.layer, v.row, v.col));
  }
  detail.from_layer = from + 1;
  detail.to_layer = to + 1;
  detail.from_z_mm = input.plans[from].bottom_mm;
  detail.to_z_mm = input.plans[to].bottom_mm + input.plans[to].height_mm;
  detail.critical_s = median(std::move(criticals));
  detail.lost_fraction = static_cast<double>(lost) / static_cast<double>(body.size());
  const double margin = std::log(detail.critical_s / input.exposure_s);
  detail.probability = chance_of_loss(vanish ? margin : -margin, input.dose_spread);
  return detail;
}

void collect(const Input& input, const Exposed& exposed, bool vanish, Details& found) {
  const Volume<double>& critical_s = vanish ? exposed.vanish_s : exposed.fuse_s;
  Volume<std::uint8_t> at_risk(critical_s.layers, input.layers[0].size, 0);
  Volume<std::uint8_t> seen = at_risk;
  for (std::size_t i = 0; i < at_risk.values.size(); ++i) {
    const double margin = std::log(critical_s.values[i] / input.exposure_s);  // -infinity for 0, infinity for infinity
    at_risk.values[i] = chance_of_loss(vanish ? margin : -margin, input.dose_spread) >= input.least_chance;
  }
  for (std::uint32_t n = 0; n < at_risk.layers; ++n)
    for (std::uint32_t r = 0; r < at_risk.rows; ++r)
      for (std::uint32_t c = 0; c < at_risk.cols; ++c) {
        if (!at_risk.at(n, r, c) || seen.at(n, r, c)) continue;
        const Detail detail = describe(input, exposed, vanish, flood(at_risk, seen, {n, r, c}));
        (detail.volume_mm3 < input.least_detail_mm3 ? found.crumbs : found.details).push_back(detail);
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
  out.solid = out.narrow = out.lost = Volume<std::uint8_t>(count, size, 0);
  out.light = out.settled_fixed = out.settled_per_s = out.vanish_s = out.flat_height_mm =
      Volume<double>(count, size, 0.0);
  out.fuse_s = Volume<double>(count, size, infinity);
  cast_light(input, out);
  settle_light(input, out);
  find_vanishing(input, out);
  find_fusing(input, out);
  return out;
}

Details find_details(const Input& input, const Exposed& exposed) {
  Details found;
  collect(input, exposed, true, found);
  collect(input, exposed, false, found);
  return found;
}

}  // namespace hairline::twin
