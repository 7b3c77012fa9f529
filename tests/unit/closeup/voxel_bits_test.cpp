// Bits of a box and what hangs together in it, against one byte per voxel and a plain flood fill.
#include <catch2/catch.hpp>

#include "dense.hpp"
#include "support/text_mask.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

Dense random_voxels(const BoxVoxels& box, double share, Random& random) {
  Dense dense(box);
  for (std::uint8_t& value : dense.values) value = random.chance(share);
  return dense;
}

}  // namespace

TEST_CASE("voxel bits: what is set, and nothing beyond the box") {
  Random random(11);
  // Widths under, at and over a word; boxes that reach beyond the image.
  for (const BoxVoxels& box : {BoxVoxels{0, 0, 5, 3, 1, 2}, BoxVoxels{-7, -2, 57, 4, 3, 5},
                               BoxVoxels{60, 10, 125, 12, 1, 1}, BoxVoxels{-70, 0, 90, 3, 2, 3}}) {
    CAPTURE(box.x0, box.x1);
    CHECK(box.voxels() ==
          static_cast<std::uint64_t>((box.x1 - box.x0) * (box.y1 - box.y0)) * (box.to_layer - box.from_layer + 1));
    Dense dense(box);
    VoxelBits bits(box);
    for (int i = 0; i < 40; ++i) {
      const std::uint32_t layer = random.between(1, 6);
      const int row = static_cast<int>(random.below(20)) - 5, begin = static_cast<int>(random.below(220)) - 90;
      const int end = begin + static_cast<int>(random.below(90));
      bits.set(layer, row, begin, end);
      for (int x = begin; x < end; ++x)
        if (dense.holds({layer, row, x})) dense.at({layer, row, x}) = 1;
    }
    const BoxVoxels wider{box.x0 - 3, box.y0 - 2, box.x1 + 3, box.y1 + 2, box.from_layer - 1, box.to_layer + 1};
    CHECK(differing(bits, wider, [&](const VoxelPlace& v) { return dense.set(v); }) == 0);
  }
}

TEST_CASE("voxel bits: a layer's mask, as far as the box reaches") {
  Random random(12);
  Picture picture(Size{150, 20});
  for (std::uint8_t& pixel : picture.pixels) pixel = random.chance(0.6);
  const Mask mask = mask_of(picture);
  for (const BoxVoxels& box :
       {BoxVoxels{-10, -5, 160, 30, 4, 5}, BoxVoxels{30, 3, 100, 9, 4, 4}, BoxVoxels{149, 19, 220, 40, 4, 4}}) {
    VoxelBits bits(box);
    bits.set(4, mask);
    CHECK(differing(bits, box, [&](const VoxelPlace& v) { return v.layer == 4 && picture.set(v.row, v.col); }) == 0);
  }
}

TEST_CASE("voxel bits: what hangs together is what a plain flood fill finds") {
  Random random(13);
  for (const double share : {0.15, 0.3, 0.6, 0.95}) {
    for (int i = 0; i < 20; ++i) {
      const BoxVoxels box{-5,
                          2,
                          -5 + static_cast<int>(random.between(1, 140)),
                          2 + static_cast<int>(random.between(1, 9)),
                          1,
                          random.between(1, 5)};
      const Dense dense = random_voxels(box, share, random);
      BoxVoxels within = box;
      if (i % 2 == 1) within.x1 = within.x0 + (box.x1 - box.x0 + 1) / 2;
      const VoxelPlace from{random.between(box.from_layer, box.to_layer), box.y0, within.x0};
      CAPTURE(share, i, within.x1 - within.x0);
      const VoxelBits found = connected(bits_of(dense, box), from, within);
      const Dense expected = flooded([&](const VoxelPlace& v) { return dense.set(v); }, from, within);
      CHECK(differing(found, box, [&](const VoxelPlace& v) { return expected.set(v); }) == 0);
    }
  }
}

TEST_CASE("voxel bits: corners join in a layer, over layers only a shared pixel does") {
  const BoxVoxels box{0, 0, 70, 3, 1, 2};
  VoxelBits bits(box);
  bits.set(1, 0, 0, 64);
  bits.set(1, 1, 64, 65);  // by a corner, over the border of a word
  bits.set(2, 2, 65, 66);  // by a corner over layers: not joined
  bits.set(2, 1, 64, 65);  // straight above
  const VoxelBits found = connected(bits, {1, 0, 3}, box);
  CHECK(found.at(1, 0, 0));
  CHECK(found.at(1, 1, 64));
  CHECK(found.at(2, 1, 64));
  CHECK(found.at(2, 2, 65));  // a corner of (1, 64) in its own layer
  bits = VoxelBits(box);
  bits.set(1, 1, 64, 65);
  bits.set(2, 2, 65, 66);
  CHECK_FALSE(connected(bits, {1, 1, 64}, box).at(2, 2, 65));
  CHECK_FALSE(connected(bits, {1, 0, 0}, box).at(1, 1, 64));  // begins where nothing is
}

TEST_CASE("voxel bits: a flood that is given up has taken out the runs found by then") {
  const BoxVoxels box{0, 0, 100, 40, 1, 1};
  VoxelBits bits(box);
  for (int y = 0; y < 40; ++y) bits.set(1, y, 10, 90);
  int runs = 0;
  take_connected(bits, {1, 20, 50}, box, [&](const VoxelRun& run) {
    CHECK(run.begin == 10);
    CHECK(run.end == 90);
    return ++runs == 3;
  });
  int taken = 40 * 80;
  each(box, [&](const VoxelPlace& v) { taken -= bits.at(v.layer, v.row, v.col); });
  CHECK_FALSE(bits.at(1, 20, 50));
  CHECK(taken >= 3 * 80);
  CHECK(taken <= 5 * 80);  // no row is begun any more
}
