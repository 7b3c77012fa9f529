#include "support/detail_judge.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "support/flood.hpp"

namespace hairline::referee {
namespace {

using test::flood;

using twin::Volume;
using Set = Volume<std::uint8_t>;

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr double slack = 1 + 1e-9;  // of every comparison of a distance with a radius
constexpr int none = 0, may = 1, will = 2;

struct At {
  int l, r, c;
};

// Half-open box of voxels.
struct Region {
  int l0 = 0, r0 = 0, c0 = 0, l1 = 0, r1 = 0, c1 = 0;
  bool holds(At v) const { return v.l >= l0 && v.l < l1 && v.r >= r0 && v.r < r1 && v.c >= c0 && v.c < c1; }
};

template <class T>
Region whole(const Volume<T>& volume) {
  return {0, 0, 0, static_cast<int>(volume.layers), static_cast<int>(volume.rows), static_cast<int>(volume.cols)};
}
template <class T>
T& get(Volume<T>& volume, At v) {
  return volume.at(static_cast<std::uint32_t>(v.l), static_cast<std::uint32_t>(v.r), static_cast<std::uint32_t>(v.c));
}
template <class T>
const T& get(const Volume<T>& volume, At v) {
  return volume.at(static_cast<std::uint32_t>(v.l), static_cast<std::uint32_t>(v.r), static_cast<std::uint32_t>(v.c));
}
template <class F>
void each(const Region& region, F f) {
  for (int l = region.l0; l < region.l1; ++l)
    for (int r = region.r0; r < region.r1; ++r)
      for (int c = region.c0; c < region.c1; ++c) f(At{l, r, c});
}

// Voxels that are joined with this one: the 8 around it in its layer, and those straight above and below.
constexpr auto each_joined = [](const At& v, const auto& f) {
  for (int dr = -1; dr <= 1; ++dr)
    for (int dc = -1; dc <= 1; ++dc)
      if (dr != 0 || dc != 0) f(At{v.l, v.r + dr, v.c + dc});
  f(At{v.l - 1, v.r, v.c});
  f(At{v.l + 1, v.r, v.c});
};

// Everything joined with `start` inside the region; marked in `seen`.
template <class Inside>
std::vector<At> flooded(const At& start, const Region& region, Set& seen, Inside inside) {
  return flood(start, each_joined, [&](const At& v) {
    if (!region.holds(v) || get(seen, v) || !inside(v)) return false;
    get(seen, v) = 1;
    return true;
  });
}

// ---------------------------------------------------------------- voxels

double normal_cdf(double x) {
  return 0.5 * std::erfc(-x / std::numbers::sqrt2);
}

double bond_time_at(const CureModel& model, double height_mm) {
  return model.bond_time_s * std::exp((height_mm - model.layer_height_mm) / model.penetration_depth_mm);
}

// One layer of yes and no; everything beyond it is no.
struct Plane {
  int rows = 0, cols = 0;
  std::vector<std::uint8_t> set;
  Plane(int row_count, int col_count)
      : rows(row_count), cols(col_count), set(static_cast<std::size_t>(rows) * static_cast<std::size_t>(cols), 0) {}
  std::uint8_t& at(int r, int c) { return set[static_cast<std::size_t>(r) * static_cast<std::size_t>(cols) + c]; }
  std::uint8_t at(int r, int c) const { return set[static_cast<std::size_t>(r) * static_cast<std::size_t>(cols) + c]; }
};

Plane plane_of(const Set& volume, int layer) {
  Plane plane(static_cast<int>(volume.rows), static_cast<int>(volume.cols));
  const auto first =
      volume.values.begin() + static_cast<std::ptrdiff_t>(volume.index(static_cast<std::uint32_t>(layer), 0, 0));
  std::copy(first, first + static_cast<std::ptrdiff_t>(plane.set.size()), plane.set.begin());
  return plane;
}

// Pixels with a set pixel within the radius (between centres).
Plane grown(const Plane& plane, double radius_mm, Pitch pitch) {
  const int far = plane.rows + plane.cols;
  std::vector<int> beside(plane.set.size(), far);  // pixels to the nearest set one in the row
  const auto side = [&](int r, int c) -> int& {
    return beside[static_cast<std::size_t>(r) * static_cast<std::size_t>(plane.cols) + c];
  };
  for (int r = 0; r < plane.rows; ++r) {
    for (int c = 0; c < plane.cols; ++c)
      side(r, c) = plane.at(r, c) ? 0 : c > 0 ? std::min(far, side(r, c - 1) + 1) : far;
    for (int c = plane.cols - 2; c >= 0; --c) side(r, c) = std::min(side(r, c), side(r, c + 1) + 1);
  }
  // How many pixels the disc reaches to the side in the row k above or below its centre.
  std::vector<int> reach;
  for (int k = 0; k * pitch.y_mm <= radius_mm * slack; ++k) {
    reach.push_back(0);
    while (std::hypot(k * pitch.y_mm, (reach.back() + 1) * pitch.x_mm) <= radius_mm * slack) ++reach.back();
  }
  Plane out(plane.rows, plane.cols);
  const int down = static_cast<int>(reach.size()) - 1;
  for (int r = 0; r < plane.rows; ++r)
    for (int c = 0; c < plane.cols; ++c)
      for (int k = std::max(0, r - down); k <= std::min(plane.rows - 1, r + down) && !out.at(r, c); ++k)
        out.at(r, c) = side(k, c) <= reach[static_cast<std::size_t>(std::abs(k - r))];
  return out;
}

Plane padded(const Plane& plane, int pad) {
  Plane out(plane.rows + 2 * pad, plane.cols + 2 * pad);
  for (int r = 0; r < plane.rows; ++r)
    for (int c = 0; c < plane.cols; ++c) out.at(r + pad, c + pad) = plane.at(r, c);
  return out;
}
Plane cropped(const Plane& plane, int pad) {
  Plane out(plane.rows - 2 * pad, plane.cols - 2 * pad);
  for (int r = 0; r < out.rows; ++r)
    for (int c = 0; c < out.cols; ++c) out.at(r, c) = plane.at(r + pad, c + pad);
  return out;
}
Plane inverted(Plane plane) {
  for (std::uint8_t& value : plane.set) value = !value;
  return plane;
}

// Closing and opening by a disc on a plane that is empty beyond the image.
Plane closed(const Plane& plane, double radius_mm, Pitch pitch) {
  const int pad = static_cast<int>(radius_mm / std::min(pitch.x_mm, pitch.y_mm)) * 2 + 4;
  return cropped(inverted(grown(inverted(grown(padded(plane, pad), radius_mm, pitch)), radius_mm, pitch)), pad);
}
Plane opened(const Plane& plane, double radius_mm, Pitch pitch) {
  const int pad = static_cast<int>(radius_mm / std::min(pitch.x_mm, pitch.y_mm)) * 2 + 4;
  return cropped(grown(inverted(grown(inverted(padded(plane, pad)), radius_mm, pitch)), radius_mm, pitch), pad);
}

double wider(Pitch pitch) {
  return std::max(pitch.x_mm, pitch.y_mm);
}

// Runs of empty voxels of one column with solid straight below and above, at most `most_mm` high: [from, to).
struct Flat {
  int from, to;
  double height_mm;
};
std::vector<Flat> flat_runs(const twin::Input& input, const Set& solid, int r, int c, double most_mm) {
  std::vector<Flat> runs;
  const int layers = static_cast<int>(solid.layers);
  for (int l = 1; l < layers; ++l) {
    if (get(solid, {l, r, c}) || !get(solid, {l - 1, r, c})) continue;
    Flat run{l, l, 0};
    while (run.to < layers && !get(solid, {run.to, r, c}))
      run.height_mm += input.plans[static_cast<std::size_t>(run.to++)].height_mm;
    if (run.to < layers && run.height_mm <= most_mm + 1e-9) runs.push_back(run);
  }
  return runs;
}

// ---------------------------------------------------------------- details

// Everything about one job at one time.
class Judge {
 public:
  Judge(const twin::Input& input, const Voxels& voxels, const Bounds& bounds)
      : input_(input), voxels_(voxels), bounds_(bounds), all_(whole(voxels.solid)) {
    for (Set& state : state_) state = Set(voxels.solid.layers, input.layers[0].size, none);
    each(all_, [&](At v) {
      get(state_[0], v) = solid(v) ? state_of_solid(v) : none;
      get(state_[1], v) = solid(v) ? none : state_from_margin(std::log(input.exposure_s / get(voxels.fuse_s, v)));
    });
    double most_bulk = 0;
    each(all_, [&](At v) {
      if (!solid(v) || !normal(v.l)) return;
      const PrintedLayer& p = printed(v.l);
      const bool thin = get(voxels.thin, v) != 0;
      const double volume = voxel_mm3(v.l);
      const double margin =
          thin ? vanish_margin(v) : std::log(bond_time_at(input.model, p.height_mm) / p.time_s(input.exposure_s));
      out_.solid_mm3 += volume;
      if (margin > 0) out_.vanish_mm3 += volume;
      if (!thin) most_bulk = std::max(most_bulk, chance(margin));
    });
    out_.bulk_chance = most_bulk;
  }

  Judged run() {
    for (const int state : {will, may})
      for (const bool vanish : {true, false}) collect(vanish, state);
    weigh_carried();
    for (std::size_t i = 0; i < found_.size(); ++i) finish(i);
    shadow();
    for (const Detail& d : found_) (is_crumb(d) ? out_.crumbs : out_.details).push_back(d);
    return out_;
  }

 private:
  // ---- plain facts
  const PrintedLayer& printed(int layer) const { return input_.plans[static_cast<std::size_t>(layer)]; }
  bool normal(int layer) const { return printed(layer).kind == LayerKind::normal; }
  double voxel_mm3(int layer) const { return input_.pitch.pixel_mm2() * printed(layer).height_mm; }
  bool solid(At v) const { return get(voxels_.solid, v) != 0; }
  int state(bool vanish, At v) const { return get(state_[vanish ? 0 : 1], v); }
  double middle_mm(int layer) const {
    const int last = all_.l1 - 1;
    if (layer > last) return middle_mm(last) + printed(last).height_mm;  // as if one more layer lay on top
    return printed(layer).bottom_mm + printed(layer).height_mm / 2;
  }

  // ---- chances
  double chance(double log_margin) const {
    if (input_.dose_spread > 0) return normal_cdf(log_margin / input_.dose_spread);
    return log_margin >= 0 ? 1 : 0;
  }
  double vanish_margin(At v) const {
    return std::log(get(voxels_.vanish_s, v) /
                    (normal(v.l) ? input_.exposure_s : printed(v.l).time_s(input_.exposure_s)));
  }
  std::uint8_t state_from_margin(double log_margin) const {
    const double p = chance(log_margin);
    return static_cast<std::uint8_t>(p >= 0.5 ? will : p >= input_.least_chance ? may : none);
  }
  std::uint8_t state_of_solid(At v) const { return get(voxels_.thin, v) ? state_from_margin(vanish_margin(v)) : none; }

  // ---- joining
  void collect(bool vanish, int wanted) {
    Set seen(voxels_.solid.layers, input_.layers[0].size, 0);
    each(all_, [&](At v) {
      if (state(vanish, v) != wanted || get(seen, v)) return;
      const bool in_base = !normal(v.l);
      bodies_.push_back(
          flooded(v, all_, seen, [&](At w) { return state(vanish, w) == wanted && normal(w.l) != in_base; }));
      found_.push_back(describe(vanish, wanted, bodies_.back()));
    });
  }

  Detail describe(bool vanish, int wanted, const std::vector<At>& body) {
    Detail d;
    d.vanish = vanish, d.will = wanted == will, d.base = !normal(body[0].l);
    d.voxels = body.size();
    int from = body[0].l, to = body[0].l;
    std::vector<double> criticals;
    for (const At& v : body) {
      from = std::min(from, v.l), to = std::max(to, v.l);
      const auto row = static_cast<std::uint32_t>(v.r), col = static_cast<std::uint32_t>(v.c);
      d.box = join(d.box, {col, row, col + 1, row + 1});
      d.volume_mm3 += voxel_mm3(v.l);
      d.front_mm2 += front_mm2(vanish, wanted, v);
      criticals.push_back(get(vanish ? voxels_.vanish_s : voxels_.fuse_s, v));
    }
    d.from_layer = static_cast<std::uint32_t>(from + 1), d.to_layer = static_cast<std::uint32_t>(to + 1);
    d.from_z_mm = printed(from).bottom_mm, d.to_z_mm = printed(to).bottom_mm + printed(to).height_mm;
    std::sort(criticals.begin(), criticals.end());
    const std::size_t half = criticals.size() / 2;
    d.critical_s = criticals.size() % 2 == 1 ? criticals[half] : 0.5 * (criticals[half - 1] + criticals[half]);
    d.extent_mm = std::hypot((d.box.x1 - d.box.x0) * input_.pitch.x_mm, (d.box.y1 - d.box.y0) * input_.pitch.y_mm,
                             d.to_z_mm - d.from_z_mm);
    d.depth_mm = d.front_mm2 > 0 ? d.volume_mm3 / d.front_mm2 : d.extent_mm;
    return d;
  }

  // Area of this voxel's faces to what stays of its kind. Beyond the image and above the top is empty that stays.
  double front_mm2(bool vanish, int wanted, At v) const {
    double front = 0;
    const auto face = [&](At w, double area) {
      if (w.l >= 0 && stays(vanish, wanted, w)) front += area;
    };
    const double h = printed(v.l).height_mm;
    face({v.l, v.r, v.c - 1}, input_.pitch.y_mm * h);
    face({v.l, v.r, v.c + 1}, input_.pitch.y_mm * h);
    face({v.l, v.r - 1, v.c}, input_.pitch.x_mm * h);
    face({v.l, v.r + 1, v.c}, input_.pitch.x_mm * h);
    face({v.l - 1, v.r, v.c}, input_.pitch.pixel_mm2());
    face({v.l + 1, v.r, v.c}, input_.pitch.pixel_mm2());
    return front;
  }
  bool stays(bool vanish, int wanted, At v) const {
    if (!all_.holds(v)) return !vanish;
    return solid(v) == vanish && state(vanish, v) < wanted;
  }

  bool is_small(double volume_mm3, std::size_t layers) const {
    return volume_mm3 < bounds_.least_mm3 || (layers == 1 && volume_mm3 < bounds_.least_flat_mm3);
  }
  bool is_crumb(const Detail& d) const {
    return is_small(d.volume_mm3, d.to_layer - d.from_layer + 1) && !d.drops &&
           d.carries_mm3 < bounds_.carried_mm3 - bounds_.tolerance;
  }

  // ---- the closer look
  void finish(std::size_t i) {
    Detail& d = found_[i];
    const std::vector<At>& body = bodies_[i];
    if (!d.vanish) {
      d.cavity = d.depth_mm >= bounds_.visible_mm - bounds_.tolerance && in_cavity(d, body);
      if (d.cavity) d.depth_mm = 0;
      d.welds = d.volume_mm3 >= bounds_.least_mm3 && welds(d, body);
    }
    const double t = bounds_.tolerance;
    const bool deep = d.depth_mm >= bounds_.visible_mm - t;
    if (deep) d.share = share(d, body);
    if (deep || (d.vanish && d.extent_mm >= bounds_.reach_mm)) d.reach_mm = reach_mm(d, body);
    d.shuts = deep && !d.vanish && shuts(d, body);
    const bool reaches = d.reach_mm && *d.reach_mm >= bounds_.reach_mm - t;
    const bool by_size = deep && (*d.share >= bounds_.share - t || reaches);
    d.breaks = deep && d.vanish && !by_size && *d.reach_mm >= 2 * bounds_.visible_mm - t && breaks(d, body);
    d.lost = (d.vanish && reaches) || by_size || d.carries_mm3 >= bounds_.carried_mm3 - t || d.drops || d.welds ||
             d.shuts || d.breaks;
  }

  // Does it touch, by faces, two empty spaces that stay, go on to the border of its box grown by 5 blur, and are not
  // joined inside that? The world around the stack is empty, and the box reaches one layer into what is above it.
  bool shuts(const Detail& d, const std::vector<At>& body) {
    const double by_mm = 5 * input_.model.blur_mm;
    const int across = static_cast<int>(std::ceil(by_mm / input_.pitch.x_mm - 1e-9));
    const int down = static_cast<int>(std::ceil(by_mm / input_.pitch.y_mm - 1e-9));
    Region region = around(d, by_mm);
    region.c0 = static_cast<int>(d.box.x0) - across, region.c1 = static_cast<int>(d.box.x1) + across;
    region.r0 = static_cast<int>(d.box.y0) - down, region.r1 = static_cast<int>(d.box.y1) + down;
    const PrintedLayer& last = printed(all_.l1 - 1);
    if (last.bottom_mm + last.height_mm < d.to_z_mm + by_mm - 1e-9) ++region.l1;
    std::set<std::array<int, 3>> seen;
    int ways = 0;
    const auto is_open = [&](const At& v) {
      return region.holds(v) && (!all_.holds(v) || stays(false, d.will ? will : may, v)) &&
             seen.insert({v.l, v.r, v.c}).second;
    };
    for (const At& v : body)
      for (const At& w : {At{v.l, v.r, v.c - 1}, At{v.l, v.r, v.c + 1}, At{v.l, v.r - 1, v.c}, At{v.l, v.r + 1, v.c},
                          At{v.l - 1, v.r, v.c}, At{v.l + 1, v.r, v.c}}) {
        const std::vector<At> space = flood(w, each_joined, is_open);
        ways += std::any_of(space.begin(), space.end(), [&](const At& u) {
          return (u.l == region.l0 && u.l > 0) || u.l == region.l1 - 1 || u.r == region.r0 || u.r == region.r1 - 1 ||
                 u.c == region.c0 || u.c == region.c1 - 1;
        });
      }
    return ways >= 2;
  }

  // The detail's box grown on all sides, cut to the stack.
  Region around(const Detail& d, double by_mm) const {
    const int across = static_cast<int>(std::ceil(by_mm / input_.pitch.x_mm - 1e-9));
    const int down = static_cast<int>(std::ceil(by_mm / input_.pitch.y_mm - 1e-9));
    Region region = all_;
    region.c0 = std::max(0, static_cast<int>(d.box.x0) - across);
    region.c1 = std::min(all_.c1, static_cast<int>(d.box.x1) + across);
    region.r0 = std::max(0, static_cast<int>(d.box.y0) - down);
    region.r1 = std::min(all_.r1, static_cast<int>(d.box.y1) + down);
    while (region.l0 < region.l1 &&
           printed(region.l0).bottom_mm + printed(region.l0).height_mm <= d.from_z_mm - by_mm + 1e-9)
      ++region.l0;
    while (region.l1 > region.l0 && printed(region.l1 - 1).bottom_mm >= d.to_z_mm + by_mm - 1e-9) --region.l1;
    return region;
  }

  // Does its empty space end within the box, without an opening? The plate closes it.
  bool in_cavity(const Detail& d, const std::vector<At>& body) {
    const Region region = around(d, 10 * input_.model.blur_mm);
    Set seen(voxels_.solid.layers, input_.layers[0].size, 0);
    const std::vector<At> space = flooded(body[0], region, seen, [&](At w) { return !solid(w); });
    return std::none_of(space.begin(), space.end(), [&](At v) {
      bool open = false;
      each_joined(v, [&](At w) {
        if (!all_.holds(w))
          open = open || w.l >= 0;  // out of the image, or above the top
        else
          open = open || (!region.holds(w) && !solid(w));  // goes on beyond the box
      });
      return open;
    });
  }

  // Voxels within a box of 5 blur around one of the body's.
  Set near(const std::vector<At>& body) {
    Set out(voxels_.solid.layers, input_.layers[0].size, 0);
    for (const At& v : body) {
      Detail one;
      one.box = {static_cast<std::uint32_t>(v.c), static_cast<std::uint32_t>(v.r), static_cast<std::uint32_t>(v.c) + 1,
                 static_cast<std::uint32_t>(v.r) + 1};
      one.from_z_mm = printed(v.l).bottom_mm, one.to_z_mm = one.from_z_mm + printed(v.l).height_mm;
      each(around(one, 5 * input_.model.blur_mm), [&](At w) { get(out, w) = 1; });
    }
    return out;
  }

  // Pieces of what is joined within 5 blur of the body's voxels, of at least so many voxels, that the body touches by
  // faces in a voxel of `touched`.
  int pieces(const Detail& d, const std::vector<At>& body, const auto& touched, const auto& joined, std::size_t least) {
    const Set close = near(body);
    const Region region = around(d, 5 * input_.model.blur_mm);
    Set seen(voxels_.solid.layers, input_.layers[0].size, 0);
    int count = 0;
    for (const At& v : body) {
      for (const At& w : {At{v.l, v.r, v.c - 1}, At{v.l, v.r, v.c + 1}, At{v.l, v.r - 1, v.c}, At{v.l, v.r + 1, v.c},
                          At{v.l - 1, v.r, v.c}, At{v.l + 1, v.r, v.c}}) {
        if (!region.holds(w) || !touched(w) || get(seen, w)) continue;
        count += flooded(w, region, seen, [&](At u) { return get(close, u) && joined(u); }).size() >= least;
      }
    }
    return count;
  }
  // What gaps that will close join is joined already where a `may` one is beside them.
  bool welds(const Detail& d, const std::vector<At>& body) {
    const auto joined = [&](At u) { return solid(u) || (!d.will && state(false, u) == will); };
    return pieces(
               d, body, [&](At u) { return solid(u); }, joined, 0) >= 2;
  }
  bool breaks(const Detail& d, const std::vector<At>& body) {
    const auto remains = [&](At u) { return stays(true, d.will ? will : may, u); };
    return pieces(d, body, remains, remains, (body.size() + 9) / 10) >= 2;
  }

  // Thin part or recess of one whole layer, without the detail.
  const Plane& drawn_part(bool vanish, int layer) {
    auto& made = parts_[vanish ? 0 : 1];
    const auto known = made.find(layer);
    if (known != made.end()) return known->second;
    const Plane drawn = plane_of(voxels_.solid, layer);
    const double radius = std::max((vanish ? 4 : 10) * input_.model.blur_mm, 1.5 * wider(input_.pitch));
    Plane part = vanish ? opened(drawn, radius, input_.pitch) : closed(drawn, radius, input_.pitch);
    for (std::size_t i = 0; i < part.set.size(); ++i)
      part.set[i] = vanish ? drawn.set[i] && !part.set[i] : part.set[i] && !drawn.set[i];
    if (!vanish) {
      const Set& low = low_gaps();
      for (int r = 0; r < part.rows; ++r)
        for (int c = 0; c < part.cols; ++c)
          if (get(low, {layer, r, c})) part.at(r, c) = 1;
    }
    return made.emplace(layer, std::move(part)).first->second;
  }

  const Set& low_gaps() {
    if (!low_gaps_.values.empty()) return low_gaps_;
    low_gaps_ = Set(voxels_.solid.layers, input_.layers[0].size, 0);
    for (int r = 0; r < all_.r1; ++r)
      for (int c = 0; c < all_.c1; ++c)
        for (const Flat& run : flat_runs(input_, voxels_.solid, r, c, 5 * input_.model.penetration_depth_mm))
          for (int l = run.from; l < run.to; ++l) get(low_gaps_, {l, r, c}) = 1;
    return low_gaps_;
  }

  double share(const Detail& d, const std::vector<At>& body) {
    const Region region = around(d, 10 * input_.model.blur_mm);
    Set own(voxels_.solid.layers, input_.layers[0].size, 0), seen = own;
    for (const At& v : body) get(own, v) = 1;
    const std::vector<At> part =
        flooded(body[0], region, seen, [&](At w) { return get(own, w) || drawn_part(d.vanish, w.l).at(w.r, w.c); });
    double part_mm3 = 0, flips_mm3 = 0;
    for (const At& v : part) {
      part_mm3 += voxel_mm3(v.l);
      if (d.will ? get(own, v) != 0 : state(d.vanish, v) != none) flips_mm3 += voxel_mm3(v.l);
    }
    return flips_mm3 / part_mm3;
  }

  // Greatest distance between the centre of one of its voxels and that of the nearest that stays of its kind.
  double reach_mm(const Detail& d, const std::vector<At>& body) {
    const Volume<double>& flat = distance_in_layer(d.vanish, d.will ? will : may);
    double greatest = 0;
    for (const At& v : body) {
      const auto& [px, py] = input_.pitch;
      double nearest = infinity;
      for (int l = 0; l < all_.l1; ++l) {
        const double dz = std::abs(middle_mm(l) - middle_mm(v.l));
        if (dz < nearest) nearest = std::min(nearest, std::hypot(dz, get(flat, {l, v.r, v.c})));
      }
      if (!d.vanish) {  // the empty world around the stack
        nearest = std::min({nearest, (v.c + 1) * px, (all_.c1 - v.c) * px, (v.r + 1) * py, (all_.r1 - v.r) * py,
                            middle_mm(all_.l1) - middle_mm(v.l)});
      }
      greatest = std::max(greatest, nearest);
    }
    return greatest == infinity ? d.extent_mm : greatest;
  }

  // In each layer and inside the image: distance to the nearest pixel that stays.
  const Volume<double>& distance_in_layer(bool vanish, int wanted) {
    Volume<double>& out = distance_[vanish ? 0 : 1][wanted - 1];
    if (!out.values.empty()) return out;
    Volume<double> beside(voxels_.solid.layers, input_.layers[0].size, infinity);
    out = beside;
    each(all_, [&](At v) {
      if (stays(vanish, wanted, v))
        get(beside, v) = 0;
      else if (v.c > 0)
        get(beside, v) = get(beside, {v.l, v.r, v.c - 1}) + input_.pitch.x_mm;
    });
    for (int l = 0; l < all_.l1; ++l)
      for (int r = 0; r < all_.r1; ++r)
        for (int c = all_.c1 - 2; c >= 0; --c) {
          double& here = get(beside, {l, r, c});
          here = std::min(here, get(beside, {l, r, c + 1}) + input_.pitch.x_mm);
        }
    each(all_, [&](At v) {
      double nearest = infinity;
      for (int k = 0; k < all_.r1; ++k) {
        const double dy = std::abs(k - v.r) * input_.pitch.y_mm;
        if (dy < nearest) nearest = std::min(nearest, std::hypot(dy, get(beside, {v.l, k, v.c})));
      }
      get(out, v) = nearest;
    });
    return out;
  }

  void shadow() {
    Set lost[2];
    for (Set& of_fate : lost) of_fate = Set(voxels_.solid.layers, input_.layers[0].size, 0);
    for (std::size_t i = 0; i < found_.size(); ++i)
      if (found_[i].will && found_[i].lost && !is_crumb(found_[i]))
        for (const At& v : bodies_[i]) get(lost[found_[i].vanish ? 0 : 1], v) = 1;
    for (std::size_t i = 0; i < found_.size(); ++i) {
      if (found_[i].will) continue;
      const Set& near = lost[found_[i].vanish ? 0 : 1];
      for (const At& v : bodies_[i])
        each_joined(v, [&](At w) { found_[i].shadowed = found_[i].shadowed || (all_.holds(w) && get(near, w)); });
    }
  }

  // ---- what falls
  // Which solid is cut off from the plate when all `will` voxels are gone; or, of what stands then, when those of one
  // `may` detail are gone as well? What is left, and each detail that goes, are the nodes of a graph of contacts; what
  // still stands is one node. `held`: what had a way to the plate before.
  struct Cut {
    Volume<std::int32_t> node;                 // -1: empty, or never held by anything
    std::vector<std::set<std::int32_t>> next;  // contacts
    std::vector<std::int32_t> node_of_detail;  // -1: it stays
    std::vector<std::map<int, double>> mm3;    // of loose bodies, by layer
  };

  Cut cut(const Set& held, std::optional<std::size_t> gone_too) const {
    Cut out;
    out.node = Volume<std::int32_t>(voxels_.solid.layers, input_.layers[0].size, -1);
    out.node_of_detail.assign(found_.size(), -1);
    out.next.resize(1);  // 0: what stands, and the plate
    out.mm3.resize(1);
    for (std::size_t i = 0; i < found_.size(); ++i) {
      if (!found_[i].vanish || !(found_[i].will || (gone_too && *gone_too == i))) continue;
      out.node_of_detail[i] = add_node(out);
      for (const At& v : bodies_[i]) get(out.node, v) = out.node_of_detail[i];
    }
    Set seen(voxels_.solid.layers, input_.layers[0].size, 0);
    each(all_, [&](At v) {  // from the plate up, so a body that stands is met in layer 1 first
      if (!get(held, v) || get(out.node, v) != -1) return;
      const std::int32_t node = v.l == 0 ? 0 : add_node(out);
      for (const At& w : flooded(v, all_, seen, [&](At u) { return get(held, u) && get(out.node, u) == -1; })) {
        get(out.node, w) = node;
        out.mm3[static_cast<std::size_t>(node)][w.l] += voxel_mm3(w.l);
      }
    });
    const auto touch = [&](std::int32_t a, std::int32_t b) {
      if (a == b || a < 0 || b < 0) return;
      out.next[static_cast<std::size_t>(a)].insert(b);
      out.next[static_cast<std::size_t>(b)].insert(a);
    };
    each(all_, [&](At v) {
      if (v.l == 0) touch(get(out.node, v), 0);
      each_joined(v, [&](At w) {
        if (all_.holds(w)) touch(get(out.node, v), get(out.node, w));
      });
    });
    return out;
  }
  static std::int32_t add_node(Cut& graph) {
    graph.next.emplace_back();
    graph.mm3.emplace_back();
    return static_cast<std::int32_t>(graph.next.size() - 1);
  }

  Set held_as_drawn() const {
    Set held(voxels_.solid.layers, input_.layers[0].size, 0);
    each({0, 0, 0, 1, all_.r1, all_.c1}, [&](At v) {
      if (solid(v) && !get(held, v)) flooded(v, all_, held, [&](At w) { return solid(w); });
    });
    return held;
  }

  // Nodes reached from `start` when one node is taken away.
  static std::vector<bool> reached(const Cut& graph, std::int32_t start, std::int32_t without) {
    std::vector<bool> seen(graph.next.size(), false);
    std::vector<std::int32_t> todo{start};
    seen[static_cast<std::size_t>(start)] = true;
    while (!todo.empty()) {
      const std::int32_t at = todo.back();
      todo.pop_back();
      for (const std::int32_t to : graph.next[static_cast<std::size_t>(at)]) {
        if (to == without || seen[static_cast<std::size_t>(to)]) continue;
        seen[static_cast<std::size_t>(to)] = true;
        todo.push_back(to);
      }
    }
    return seen;
  }

  // A body hangs on a detail when some way from it to the plate leads through the detail (a way meets nothing twice):
  // by Menger's theorem when no one other node parts the detail from both.
  void weigh(const Cut& graph, std::size_t i) {
    const std::int32_t node = graph.node_of_detail[i];
    const std::size_t nodes = graph.next.size();
    if (std::all_of(graph.mm3.begin() + 1, graph.mm3.end(), [](const auto& mm3) { return mm3.empty(); })) return;
    std::vector<bool> hangs(nodes, true);
    for (std::size_t x = 0; x < nodes; ++x) {
      if (static_cast<std::int32_t>(x) == node) continue;
      const std::vector<bool> seen = reached(graph, node, static_cast<std::int32_t>(x));
      const bool ground = x != 0 && seen[0];
      for (std::size_t body = 1; body < nodes; ++body)
        if (!ground && (body == x || !seen[body])) hangs[body] = false;
    }
    const std::vector<bool> connected = reached(graph, node, 0);
    for (std::size_t body = 1; body < nodes; ++body) {
      double later_mm3 = 0, all_mm3 = 0;
      for (const auto& [layer, mm3] : graph.mm3[body]) {
        all_mm3 += mm3;
        if (layer + 1 < static_cast<int>(found_[i].from_layer)) continue;
        later_mm3 += mm3;
        if (hangs[body] != connected[body]) found_[i].carries_unclear = true;
      }
      if (!hangs[body]) continue;
      found_[i].carries_mm3 += later_mm3;
      const bool counts = bounds_.carried_mm3 < infinity && !is_small(all_mm3, graph.mm3[body].size());
      if (later_mm3 > 0 && counts) found_[i].drops = true;
    }
  }

  void weigh_carried() {
    const Cut graph = cut(held_as_drawn(), std::nullopt);
    Set stands(voxels_.solid.layers, input_.layers[0].size, 0);
    each(all_, [&](At v) { get(stands, v) = get(graph.node, v) == 0; });
    for (std::size_t i = 0; i < found_.size(); ++i) {
      if (!found_[i].vanish) continue;
      if (found_[i].will)
        weigh(graph, i);
      else
        weigh(cut(stands, i), i);
    }
  }

  const twin::Input& input_;
  const Voxels& voxels_;
  const Bounds bounds_;
  const Region all_;
  Set state_[2];  // of solid, of gaps
  std::vector<Detail> found_;
  std::vector<std::vector<At>> bodies_;  // of `found_`
  std::map<int, Plane> parts_[2];
  Set low_gaps_;
  Volume<double> distance_[2][2];
  Judged out_;
};

}  // namespace

Judged judge(const twin::Input& input, const Voxels& voxels, const Bounds& bounds) {
  return Judge(input, voxels, bounds).run();
}

std::vector<Row> rows(const twin::Input& input, const Voxels& voxels, const std::vector<double>& times_s,
                      const Bounds& bounds) {
  std::vector<Row> out;
  twin::Input at = input;
  for (const double time_s : times_s) {
    at.exposure_s = time_s;
    Row row{time_s};
    for (const Detail& d : judge(at, voxels, bounds).details) {
      if (!d.lost || !d.will || d.base) continue;
      ++(d.vanish ? row.vanish : row.fuse);
      (d.vanish ? row.vanish_mm3 : row.fuse_mm3) += d.volume_mm3;
    }
    out.push_back(row);
  }
  return out;
}

}  // namespace hairline::referee
