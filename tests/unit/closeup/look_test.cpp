// What a close look finds, against docs/exposure.md, "Lost or rounding", done voxel by voxel on the whole image; and on
// scenes small enough to be worked out by hand.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "dense.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

std::vector<PrintedLayer> plans(const std::vector<double>& heights_mm) {
  std::vector<PrintedLayer> out;
  double bottom_mm = 0;
  for (const double height_mm : heights_mm) {
    PrintedLayer printed;
    printed.height_mm = height_mm, printed.bottom_mm = bottom_mm;
    bottom_mm += height_mm;
    out.push_back(printed);
  }
  return out;
}

// ---- the same by brute force. All planes are taken `far` pixels beyond the image, where everything is empty.

struct Judge {
  const Dense& solid;  // the whole image, and a layer of nothing on top
  const CloseupScale& scale;

  double wider_mm() const { return std::max(scale.pitch.x_mm, scale.pitch.y_mm); }
  double height_mm(std::uint32_t n) const {
    return scale.layers[std::min<std::size_t>(n, scale.layers.size()) - 1].height_mm;
  }
  double middle_mm(std::uint32_t n) const {
    const std::size_t last = scale.layers.size();
    const double bottom = n > last ? scale.layers[last - 1].bottom_mm + height_mm(n) : scale.layers[n - 1].bottom_mm;
    return bottom + height_mm(n) / 2;
  }
  double across_mm(const VoxelPlace& a, const VoxelPlace& b) const {
    return std::hypot((a.col - b.col) * scale.pitch.x_mm, (a.row - b.row) * scale.pitch.y_mm);
  }
  double distance_mm(const VoxelPlace& a, const VoxelPlace& b) const {
    return std::hypot(across_mm(a, b), middle_mm(a.layer) - middle_mm(b.layer));
  }
  // Every pixel of the layer of `at` within the radius.
  template <class F>
  bool any_near(const VoxelPlace& at, double radius_mm, F holds) const {
    const int dy = static_cast<int>(radius_mm / scale.pitch.y_mm) + 1,
              dx = static_cast<int>(radius_mm / scale.pitch.x_mm) + 1;
    for (int y = at.row - dy; y <= at.row + dy; ++y)
      for (int x = at.col - dx; x <= at.col + dx; ++x) {
        const VoxelPlace v{at.layer, y, x};
        if (across_mm(at, v) <= radius_mm * (1 + 1e-9) && holds(v)) return true;
      }
    return false;
  }
  bool thin(const VoxelPlace& v) const {  // in no disc that lies in the solid
    const double radius = std::max(4 * scale.blur_mm, 1.5 * wider_mm());
    const auto centre = [&](const VoxelPlace& c) {
      return !any_near(c, radius, [&](const VoxelPlace& q) { return !solid.set(q); });
    };
    return solid.set(v) && !any_near(v, radius, centre);
  }
  bool recess(const VoxelPlace& v) const {
    if (solid.set(v)) return false;
    const double radius = std::max(10 * scale.blur_mm, 1.5 * wider_mm());
    const auto open_centre = [&](const VoxelPlace& c) {  // of a disc without solid
      return !any_near(c, radius, [&](const VoxelPlace& q) { return solid.set(q); });
    };
    if (!any_near(v, radius, open_centre)) return true;
    std::uint32_t low = v.layer, high = v.layer;
    while (low > 1 && !solid.set({low - 1, v.row, v.col})) --low;
    while (high <= scale.layers.size() && !solid.set({high, v.row, v.col})) ++high;
    if (low == 1 || high > scale.layers.size()) return false;
    const double high_mm = middle_mm(high) - height_mm(high) / 2 - (middle_mm(low) - height_mm(low) / 2);
    return high_mm <= 5 * scale.penetration_depth_mm + 1e-9;
  }
  double volume_mm3(const Dense& dense) const {
    double volume = 0;
    each(dense.box, [&](const VoxelPlace& v) {
      if (dense.set(v)) volume += scale.pitch.pixel_mm2() * height_mm(v.layer);
    });
    return volume;
  }
};

// A box grown by whole pixels and layers, as far as a length reaches; from the plate to one layer above the top.
BoxVoxels grown(BoxVoxels box, double mm, const CloseupScale& scale) {
  const int dx = static_cast<int>(std::ceil(mm / scale.pitch.x_mm - 1e-9)),
            dy = static_cast<int>(std::ceil(mm / scale.pitch.y_mm - 1e-9));
  box = {box.x0 - dx, box.y0 - dy, box.x1 + dx, box.y1 + dy, box.from_layer, box.to_layer};
  double down = 0, up = 0;
  while (box.from_layer > 1 && down < mm - 1e-9) down += scale.layers[--box.from_layer - 1].height_mm;
  while (box.to_layer <= scale.layers.size() && up < mm - 1e-9)
    up += scale.layers[std::min<std::size_t>(++box.to_layer, scale.layers.size()) - 1].height_mm;
  return box;
}

BoxVoxels bounds(const Dense& dense) {
  BoxVoxels out{INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN, UINT32_MAX, 0};
  each(dense.box, [&](const VoxelPlace& v) {
    if (!dense.set(v)) return;
    out = {std::min(out.x0, v.col),     std::min(out.y0, v.row),           std::max(out.x1, v.col + 1),
           std::max(out.y1, v.row + 1), std::min(out.from_layer, v.layer), std::max(out.to_layer, v.layer)};
  });
  return out;
}

// Blocks and slots at random, and voxels that flip in a few blobs.
struct Scene {
  Dense solid, flips;
  Scene(const BoxVoxels& image, Random& random) : solid(image), flips(image) {
    const auto block = [&](Dense& into, std::uint8_t value, std::uint32_t most) {
      const int x = static_cast<int>(random.below(static_cast<std::uint32_t>(image.x1))),
                y = static_cast<int>(random.below(static_cast<std::uint32_t>(image.y1)));
      const int x1 = x + static_cast<int>(random.between(1, most)), y1 = y + static_cast<int>(random.between(1, most));
      const std::uint32_t from = random.between(1, image.to_layer - 1), to = from + random.below(most);
      each({x, y, std::min(x1, image.x1), std::min(y1, image.y1), from, std::min(to, image.to_layer - 1)},
           [&](const VoxelPlace& v) { into.at(v) = value; });
    };
    for (int i = 0; i < 14; ++i) block(solid, 1, 14);
    for (int i = 0; i < 10; ++i) block(solid, 0, 6);
    for (int i = 0; i < 12; ++i) block(flips, 1, 7);
    if (!random.chance(0.4)) return;  // a shell around nothing, part of which flips
    const int x = static_cast<int>(random.below(10)), y = static_cast<int>(random.below(8));
    each({x, y, x + 16, y + 14, 2, 8}, [&](const VoxelPlace& v) { solid.at(v) = 1, flips.at(v) = 0; });
    each({x + 5, y + 5, x + 11, y + 9, 4, 6}, [&](const VoxelPlace& v) { solid.at(v) = 0, flips.at(v) = 1; });
  }
};

struct Counts {
  int details = 0, welds = 0, cavities = 0, shares = 0;
};

void compare(const Scene& scene, const CloseupScale& scale, bool vanish, bool may, const VoxelPlace& seed,
             Counts& counts) {
  const Judge judge{scene.solid, scale};
  const BoxVoxels image = scene.solid.box;
  const auto goes = [&](const VoxelPlace& v) {
    return scene.flips.set(v) && scene.solid.set(v) == vanish && v.layer <= scale.layers.size();
  };
  const Dense detail = flooded(goes, seed, image);
  const BoxVoxels box = bounds(detail);
  const BoxVoxels known = solid_box(box, vanish, scale), part = grown(box, 10 * scale.blur_mm, scale),
                  near = grown(box, 5 * scale.blur_mm, scale);
  const VoxelBits solid = bits_of(scene.solid, known), drawn = drawn_parts(solid, vanish, scale);
  const auto is_drawn = [&](const VoxelPlace& v) { return vanish ? judge.thin(v) : judge.recess(v); };
  Dense drawn_here(part);
  each(part, [&](const VoxelPlace& v) { drawn_here.at(v) = v.layer <= scale.layers.size() && is_drawn(v); });
  CHECK(differing(drawn,
                  {part.x0, part.y0, part.x1, part.y1, part.from_layer,
                   std::min(part.to_layer, static_cast<std::uint32_t>(scale.layers.size()))},
                  [&](const VoxelPlace& v) { return drawn_here.set(v); }) == 0);

  const BoxVoxels lots = lots_box(box, scale);
  Dense all_goes(lots);
  each(lots, [&](const VoxelPlace& v) { all_goes.at(v) = may ? goes(v) : detail.set(v); });
  // Beside a detail that may flip some of the empty voxels around it are gaps that will.
  Dense filled(near);
  each(near, [&](const VoxelPlace& v) {
    filled.at(v) = may && !scene.solid.set(v) && !detail.set(v) && (v.row + 2 * v.col) % 5 == 0;
  });
  const Closeup at{vanish,
                   may,
                   box,
                   seed,
                   solid,
                   drawn,
                   bits_of(detail, box),
                   bits_of(all_goes, lots),
                   bits_of(filled, weld_box(box, scale))};

  const Dense whole = flooded([&](const VoxelPlace& v) { return detail.set(v) || drawn_here.set(v); }, seed, part);
  Dense taken(part);
  each(part, [&](const VoxelPlace& v) { taken.at(v) = whole.set(v) && all_goes.set(v); });
  const double share = judge.volume_mm3(taken) / judge.volume_mm3(whole);
  CHECK(share_of_part(at, scale) == Approx(share));
  CHECK((share_of_part(at, scale, 0.3) >= 0.3) == (share >= 0.3));

  double reach = 0;
  each(box, [&](const VoxelPlace& v) {
    if (!detail.set(v)) return;
    double nearest = INFINITY;
    each(lots, [&](const VoxelPlace& q) {
      if (scene.solid.set(q) == vanish && !all_goes.set(q)) nearest = std::min(nearest, judge.distance_mm(v, q));
    });
    reach = std::max(reach, nearest);
  });
  CHECK(reach_mm(at, scale, INFINITY).value_or(INFINITY) == Approx(reach));

  ++counts.details, counts.shares += share < 0.999;
  if (vanish) return;
  const Dense empty = flooded([&](const VoxelPlace& v) { return !scene.solid.set(v); }, seed, part);
  bool open = false;
  each(part, [&](const VoxelPlace& v) {
    const bool rim = v.col == part.x0 || v.col == part.x1 - 1 || v.row == part.y0 || v.row == part.y1 - 1 ||
                     v.layer == part.to_layer || (v.layer == part.from_layer && v.layer > 1);
    open = open || (rim && empty.set(v));
  });
  CHECK(in_closed_cavity(at, scale) == !open);

  int upper_faces = 0, under_solid = 0;
  each(box, [&](const VoxelPlace& v) {
    const VoxelPlace above{v.layer + 1, v.row, v.col};
    if (!detail.set(v) || detail.set(above)) return;
    ++upper_faces;
    under_solid += scene.solid.set(above);
  });
  CHECK(roofed(at) == (2 * under_solid > upper_faces));

  std::vector<VoxelPlace> touched;  // by faces
  each(near, [&](const VoxelPlace& v) {
    const auto at_detail = [&](int dz, int dy, int dx) {
      return detail.set({v.layer + static_cast<std::uint32_t>(dz), v.row + dy, v.col + dx});
    };
    const bool beside = at_detail(0, 0, -1) || at_detail(0, 0, 1) || at_detail(0, -1, 0) || at_detail(0, 1, 0) ||
                        at_detail(-1, 0, 0) || at_detail(1, 0, 0);
    if (beside && scene.solid.set(v)) touched.push_back(v);
  });
  bool two = false;
  if (!touched.empty()) {
    Dense around(near);  // 5 blur around each of its voxels
    each(box, [&](const VoxelPlace& v) {
      if (detail.set(v))
        each(weld_box({v.col, v.row, v.col + 1, v.row + 1, v.layer, v.layer}, scale),
             [&](const VoxelPlace& q) { around.at(q) = true; });
    });
    const auto joined = [&](const VoxelPlace& v) { return around.set(v) && (scene.solid.set(v) || filled.set(v)); };
    const Dense one = flooded(joined, touched[0], near);
    two = std::any_of(touched.begin(), touched.end(), [&](const VoxelPlace& v) { return !one.set(v); });
  }
  CHECK(welds(at, scale) == two);
  counts.welds += two, counts.cavities += !open;
}

}  // namespace

TEST_CASE("closeup: drawn parts, share, reach, cavities and welds by brute force") {
  Random random(21);
  Counts counts;
  for (int i = 0; i < 36; ++i) {
    const std::vector<PrintedLayer> layers = plans({0.05, 0.05, 0.03, 0.03, 0.05, 0.08, 0.05, 0.05, 0.05});
    const CloseupScale scale{{0.05, i % 2 == 0 ? 0.05 : 0.04}, layers, random.between_real(0.008, 0.02), 0.03, 0.12};
    const Scene scene({0, 0, 30, 24, 1, static_cast<std::uint32_t>(layers.size() + 1)}, random);
    for (const bool vanish : {true, false}) {
      std::vector<VoxelPlace> seeds;
      each(scene.solid.box, [&](const VoxelPlace& v) {
        if (v.layer <= layers.size() && scene.flips.set(v) && scene.solid.set(v) == vanish) seeds.push_back(v);
      });
      if (seeds.empty()) continue;
      const VoxelPlace seed = seeds[random.below(static_cast<std::uint32_t>(seeds.size()))];
      CAPTURE(i, vanish, seed.layer, seed.row, seed.col);
      compare(scene, scale, vanish, i % 3 == 0, seed, counts);
    }
  }
  CHECK(counts.details >= 40);
  CHECK(counts.shares >= 15);
  CHECK(counts.welds >= 3);
  CHECK(counts.cavities >= 3);
}

// ---- by hand: voxels of 0.05 mm, blur 0.02 mm, so that discs of 0.08 mm make thin parts and of 0.2 mm recesses, and
// parts are cut 0.2 mm (4 voxels) around a detail.

namespace {

struct Hand {
  std::vector<PrintedLayer> layers = plans(std::vector<double>(20, 0.05));
  CloseupScale scale{{0.05, 0.05}, layers, 0.02, 0.04, 0.5};
  Dense solid{BoxVoxels{0, 0, 60, 40, 1, 21}};

  void fill(const BoxVoxels& box, std::uint8_t value = 1) {
    each(box, [&](const VoxelPlace& v) { solid.at(v) = value; });
  }
  // A detail that fills its box.
  struct Seen {
    double share = 0, reach_mm = 0;
    bool cavity = false, welds = false, breaks = false;
  };
  Seen look(const BoxVoxels& box, bool vanish) const {
    const VoxelBits known = bits_of(solid, solid_box(box, vanish, scale)), drawn = drawn_parts(known, vanish, scale);
    VoxelBits own(box), goes(lots_box(box, scale));
    each(box, [&](const VoxelPlace& v) {
      own.set(v.layer, v.row, v.col, v.col + 1);
      goes.set(v.layer, v.row, v.col, v.col + 1);
    });
    const Closeup at{vanish, false, box, {box.from_layer, box.y0, box.x0}, known, drawn, own, goes, {}};
    return {share_of_part(at, scale), reach_mm(at, scale, INFINITY).value_or(INFINITY),
            !vanish && in_closed_cavity(at, scale), !vanish && welds(at, scale), vanish && breaks(at, scale)};
  }
};

}  // namespace

TEST_CASE("closeup by hand: the upper half of a picket") {
  Hand hand;
  hand.fill({10, 10, 30, 30, 1, 4});
  hand.fill({19, 19, 21, 21, 5, 14});  // 2 x 2 x 10
  const Hand::Seen seen = hand.look({19, 19, 21, 21, 10, 14}, true);
  CHECK(seen.share == Approx(5.0 / 9));  // 5 layers of it, and 4 of the part below
  CHECK(seen.reach_mm == Approx(5 * 0.05));
}

TEST_CASE("closeup by hand: the end of a fin beside a block") {
  Hand hand;
  hand.fill({4, 4, 20, 36, 1, 20});
  hand.fill({20, 19, 40, 21, 1, 20});  // two wide, 20 long
  const Hand::Seen seen = hand.look({38, 19, 40, 21, 1, 20}, true);
  CHECK(seen.share == Approx(2.0 / 6));
  CHECK(seen.reach_mm == Approx(2 * 0.05));
  // Nothing stays of a picket that goes whole and stands far from all else.
  hand.fill({50, 4, 52, 6, 1, 20});
  CHECK(hand.look({50, 4, 52, 6, 1, 20}, true).share == Approx(1));
  CHECK(std::isinf(hand.look({50, 4, 52, 6, 1, 20}, true).reach_mm));
}

TEST_CASE("closeup by hand: a slot that fills from its bottom, and a cavity that nobody sees") {
  Hand hand;
  hand.fill({4, 4, 56, 36, 1, 20});
  hand.fill({20, 18, 40, 20, 11, 20}, 0);  // a slot 10 layers deep, open above
  Hand::Seen seen = hand.look({20, 18, 40, 20, 11, 15}, false);
  CHECK(seen.share == Approx(5.0 / 9));
  CHECK(seen.reach_mm == Approx(5 * 0.05));
  CHECK_FALSE(seen.cavity);
  CHECK_FALSE(seen.welds);
  hand.fill({20, 18, 40, 20, 16, 20});  // closed above
  seen = hand.look({20, 18, 40, 20, 11, 15}, false);
  CHECK(seen.cavity);
  CHECK(seen.share == Approx(1));
  hand.fill({40, 18, 41, 19, 13, 13}, 0);  // a way out, through a side, but it ends in the solid
  CHECK(hand.look({20, 18, 40, 20, 11, 15}, false).cavity);
  hand.fill({40, 18, 60, 19, 13, 13}, 0);
  CHECK_FALSE(hand.look({20, 18, 40, 20, 11, 15}, false).cavity);
}

TEST_CASE("closeup by hand: a rung leaves a break, a bracket does not") {
  Hand hand;
  const BoxVoxels rung{14, 19, 30, 21, 8, 9};
  hand.fill({10, 10, 14, 30, 1, 20});
  hand.fill(rung);
  CHECK_FALSE(hand.look(rung, true).breaks);  // it ends in the air
  hand.fill({30, 19, 31, 20, 8, 8});
  CHECK_FALSE(hand.look(rung, true).breaks);  // or at a speck
  hand.fill({30, 10, 34, 30, 1, 20});
  CHECK(hand.look(rung, true).breaks);
  CHECK(hand.look({14, 19, 22, 21, 8, 9}, true).breaks);  // half of it is enough
  hand.fill({14, 22, 30, 24, 8, 9});                      // joined right beside it
  CHECK_FALSE(hand.look(rung, true).breaks);
}

TEST_CASE("closeup by hand: a gap between two bodies, and the same joined near by or far off") {
  Hand hand;
  hand.fill({10, 10, 28, 30, 1, 20});
  hand.fill({29, 10, 50, 30, 1, 20});
  const BoxVoxels gap{28, 10, 29, 30, 11, 20};
  CHECK(hand.look(gap, false).welds);
  hand.fill({28, 10, 29, 30, 9, 9});  // a bridge two layers below: 5 blur are two layers
  CHECK_FALSE(hand.look(gap, false).welds);
  hand.fill({28, 10, 29, 30, 9, 9}, 0);
  hand.fill({28, 10, 29, 30, 7, 7});
  CHECK(hand.look(gap, false).welds);
}

TEST_CASE("closeup: a tall wall reaches as far as every voxel of it says, one by one") {
  std::vector<double> heights_mm;
  for (int i = 0; i < 150; ++i) heights_mm.push_back(i % 3 == 0 ? 0.08 : 0.03);
  const std::vector<PrintedLayer> layers = plans(heights_mm);
  const CloseupScale scale{{0.05, 0.04}, layers, 0.02, 0.03, 0.5};
  const BoxVoxels wall{20, 12, 23, 32, 3, 150};
  Dense solid(BoxVoxels{0, 0, 60, 50, 1, 151});
  const auto fill = [&](const BoxVoxels& box) { each(box, [&](const VoxelPlace& v) { solid.at(v) = 1; }); };
  fill(wall);
  fill({14, 8, 40, 40, 1, 2});    // a base
  fill({25, 10, 27, 13, 1, 60});  // and a post beside the lower half of an end
  const Judge judge{solid, scale};
  const BoxVoxels lots = lots_box(wall, scale);
  VoxelBits detail(wall), goes(lots);
  each(wall, [&](const VoxelPlace& v) {
    detail.set(v.layer, v.row, v.col, v.col + 1);
    goes.set(v.layer, v.row, v.col, v.col + 1);
  });
  std::vector<VoxelPlace> stays;
  each(lots, [&](const VoxelPlace& v) {
    if (solid.set(v) && !goes.at(v.layer, v.row, v.col)) stays.push_back(v);
  });
  double reach = 0;
  each(wall, [&](const VoxelPlace& v) {
    double nearest = INFINITY;
    for (const VoxelPlace& other : stays) nearest = std::min(nearest, judge.distance_mm(v, other));
    reach = std::max(reach, nearest);
  });
  const VoxelBits known = bits_of(solid, solid_box(wall, true, scale)), drawn = drawn_parts(known, true, scale);
  const Closeup at{true, false, wall, {3, 12, 20}, known, drawn, detail, goes, {}};
  CHECK(reach > 4);
  CHECK(reach_mm(at, scale, INFINITY).value() == Approx(reach).epsilon(1e-12));
  CHECK(reach_mm(at, scale, 0.5).value() >= 0.5);
}
