// Parts thinner than a pixel: spots of a layer against a flood of its pixels, and chains of spots by hand.
#include "track/faint.hpp"

#include <catch2/catch.hpp>
#include <random>

using namespace hairline;

namespace {

struct Picture {
  Size size;
  std::vector<std::uint8_t> pixels;
  explicit Picture(Size s) : size(s), pixels(std::size_t{s.width_px} * s.height_px, 0) {}
  std::uint8_t& at(std::uint32_t x, std::uint32_t y) { return pixels[std::size_t{y} * size.width_px + x]; }
  std::vector<FaintSpot> spots() const { return find_faint_spots(encode(pixels, size)); }
};

// Pixel by pixel, as docs/verdicts.md says it ("Faint").
std::vector<FaintSpot> flooded(Picture left) {
  std::vector<FaintSpot> spots;
  for (std::uint32_t y = 0; y < left.size.height_px; ++y)
    for (std::uint32_t x = 0; x < left.size.width_px; ++x) {
      if (left.at(x, y) < 26) continue;
      FaintSpot spot;
      std::uint32_t lit = 0, solid = 0;
      std::vector<std::pair<std::uint32_t, std::uint32_t>> open{{x, y}};
      while (!open.empty()) {
        const auto [col, row] = open.back();
        open.pop_back();
        std::uint8_t& value = left.at(col, row);
        if (value < 26) continue;
        ++lit;
        solid += value >= 128;
        value = 0;
        spot.box = join(spot.box, {col, row, col + 1, row + 1});
        for (std::uint32_t r = std::max(row, 1u) - 1; r <= std::min(row + 1, left.size.height_px - 1); ++r)
          for (std::uint32_t c = std::max(col, 1u) - 1; c <= std::min(col + 1, left.size.width_px - 1); ++c)
            open.push_back({c, r});
      }
      spot.bare = solid == 0;
      if (solid <= 3 && lit <= 3 * std::max(spot.box.x1 - spot.box.x0, spot.box.y1 - spot.box.y0))
        spots.push_back(spot);
    }
  return spots;
}

}  // namespace

TEST_CASE("faint: spots of random pictures are those of a flood") {
  std::mt19937 engine(7);
  const auto random = [&] { return static_cast<std::uint32_t>(engine()); };
  std::size_t found = 0;
  for (int i = 0; i < 300; ++i) {
    Picture picture({40, 30});
    const std::uint32_t lit = 20 + random() % 300;
    for (std::uint32_t k = 0; k < lit; ++k) {  // upright and level strokes, so that rows are alike
      const std::uint32_t x = random() % 40, y = random() % 30, length = 1 + random() % 4, value = random() % 256;
      for (std::uint32_t s = 0; s < length; ++s)
        picture.at(k % 2 ? std::min(x + s, 39u) : x, k % 2 ? y : std::min(y + s, 29u)) =
            static_cast<std::uint8_t>(value);
    }
    const std::vector<FaintSpot> fast = picture.spots(), slow = flooded(picture);
    REQUIRE(fast.size() == slow.size());
    for (std::size_t k = 0; k < fast.size(); ++k) {
      CHECK(fast[k].box == slow[k].box);
      CHECK(fast[k].bare == slow[k].bare);
    }
    found += fast.size();
  }
  CHECK(found > 1000);
}

TEST_CASE("faint: grey beside what is solid is its edge, wide grey is no spot, and noise is none") {
  Picture picture({60, 60});
  for (std::uint32_t y = 10; y < 20; ++y)
    for (std::uint32_t x = 10; x < 20; ++x) picture.at(x, y) = x == 10 || y == 10 ? 100 : 255;
  CHECK(picture.spots().empty());
  for (std::uint32_t y = 30; y < 36; ++y)
    for (std::uint32_t x = 30; x < 36; ++x) picture.at(x, y) = 100;
  CHECK(picture.spots().empty());
  picture.at(40, 50) = 25;
  CHECK(picture.spots().empty());
  picture.at(40, 50) = 26;
  CHECK(picture.spots().size() == 1);
  Picture noise({60, 60});
  for (std::uint32_t y = 0; y < 60; y += 2)
    for (std::uint32_t x = 0; x < 60; x += 2) noise.at(x, y) = 100;
  CHECK(noise.spots().empty());
}

TEST_CASE("faint: spots above each other are a part, across two layers and two pixels, and a quarter of it is bare") {
  const auto spot = [](std::uint32_t x, bool bare) { return FaintSpot{{x, 5, x + 1, 6}, bare}; };
  FaintTracker leaning;
  for (std::uint32_t n = 30; n > 20; --n) leaning.add(n, {spot(2 * n, n % 3 == 0), spot(200, n % 5 == 0)});
  for (std::uint32_t n = 20; n > 0; --n) leaning.add(n, {});
  const std::vector<FaintChain> one = leaning.finish();
  REQUIRE(one.size() == 1);  // of the upright one a fifth is bare: it is thin, but drawn
  CHECK(one[0].from_layer == 21);
  CHECK(one[0].to_layer == 30);
  CHECK(one[0].box == BoxPx{42, 5, 61, 6});
  FaintTracker dashed;
  for (std::uint32_t n = 30; n > 0; --n)
    dashed.add(n, n % 3 == 0 ? std::vector{spot(7, true)} : std::vector<FaintSpot>{});
  REQUIRE(dashed.finish().size() == 1);
  FaintTracker tips;  // of four layers each
  for (std::uint32_t n = 40; n > 0; --n) tips.add(n, n % 8 < 4 ? std::vector{spot(7, true)} : std::vector<FaintSpot>{});
  CHECK(tips.finish().empty());
}
