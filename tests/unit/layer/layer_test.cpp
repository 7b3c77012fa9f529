#include "hairline/layer.hpp"

#include <catch2/catch.hpp>
#include <cstdint>
#include <vector>

using namespace hairline;

namespace {
// Small fixed generator (splitmix64), so that every machine tests the same pictures.
struct Draws {
  std::uint64_t state;
  std::uint64_t next() {
    std::uint64_t z = (state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
  }
};

std::vector<std::uint8_t> picture(Size size, Draws& draws) {
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px);
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const bool repeat = r > 0 && draws.next() % 3 == 0;
    for (std::uint32_t c = 0; c < size.width_px; ++c) {
      const std::size_t at = std::size_t{r} * size.width_px + c;
      const std::uint64_t draw = draws.next();
      pixels[at] = repeat          ? pixels[at - size.width_px]
                   : draw % 4 == 0 ? static_cast<std::uint8_t>(draw >> 8)
                   : c > 0         ? pixels[at - 1]
                                   : 255;
    }
  }
  return pixels;
}

bool set(const Mask& mask, std::uint32_t r, std::uint32_t c) {
  for (const Span& span : mask.row(r)) {
    if (c >= span.begin && c < span.end) return true;
  }
  return false;
}
}  // namespace

TEST_CASE("runs are as the header draws them") {
  const Layer layer = encode(std::vector<std::uint8_t>{0, 9, 9, 0, 0, 5, 0, 0}, {8, 1});
  REQUIRE(layer.runs == std::vector<Run>{{1, 3, 9}, {5, 6, 5}});
}

TEST_CASE("decode is the inverse of encode and equal neighbouring rows share runs") {
  Draws draws{7};
  for (int i = 0; i < 50; ++i) {
    const Size size{static_cast<std::uint32_t>(1 + draws.next() % 40),
                    static_cast<std::uint32_t>(1 + draws.next() % 30)};
    const auto pixels = picture(size, draws);
    const Layer layer = encode(pixels, size);
    REQUIRE(decode(layer) == pixels);
    for (std::uint32_t r = 1; r < size.height_px; ++r) {
      const auto row = layer.row(r), above = layer.row(r - 1);
      const bool equal = std::equal(row.begin(), row.end(), above.begin(), above.end());
      REQUIRE(equal == (layer.rows[r] == layer.rows[r - 1] || (row.empty() && above.empty())));
    }
  }
}

TEST_CASE("one mask less another agrees with a look at every pixel") {
  Draws draws{11};
  for (int i = 0; i < 50; ++i) {
    const Size size{static_cast<std::uint32_t>(1 + draws.next() % 50),
                    static_cast<std::uint32_t>(1 + draws.next() % 20)};
    const Mask a = solid(encode(picture(size, draws), size)), b = solid(encode(picture(size, draws), size));
    const Mask rest = minus(a, b);
    std::uint64_t area = 0;
    for (std::uint32_t r = 0; r < size.height_px; ++r) {
      for (std::uint32_t c = 0; c < size.width_px; ++c) {
        const bool in_a = set(a, r, c), in_b = set(b, r, c);
        REQUIRE(set(rest, r, c) == (in_a && !in_b));
        area += in_a;
      }
    }
    REQUIRE(area_px(a) == area);
    for (std::uint32_t r = 0; r < size.height_px; ++r) {  // spans never touch
      const auto row = rest.row(r);
      for (std::size_t k = 1; k < row.size(); ++k) REQUIRE(row[k - 1].end < row[k].begin);
    }
  }
}

TEST_CASE("solid starts at value 128") {
  const Mask mask = solid(encode(std::vector<std::uint8_t>{127, 128, 255, 0, 200}, {5, 1}));
  REQUIRE(mask.spans == std::vector<Span>{{1, 3}, {4, 5}});
  REQUIRE(bounds(mask) == BoxPx{1, 0, 5, 1});
}

TEST_CASE("a builder fills missing rows with background and starts anew after take") {
  LayerBuilder builder({4, 3});
  builder.add_runs(std::vector<Run>{{0, 2, 255}, {2, 3, 255}});
  const Layer layer = builder.take();
  REQUIRE(decode(layer) == std::vector<std::uint8_t>{255, 255, 255, 0, 0, 0, 0, 0, 0, 0, 0, 0});
  REQUIRE(area_px(solid(builder.take())) == 0);
}
