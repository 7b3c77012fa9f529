// Benchmark plates: they are what their names say, at several sizes, and layers do not depend on the order they are
// drawn in.
#include "hairline/plates.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "support/flood.hpp"

using namespace hairline;

namespace {

// 8-connected (draw may not use measure).
std::uint32_t count_pieces(const Layer& layer) {
  return test::slow_labels(test::picture_of(layer)).count;
}

}  // namespace

TEST_CASE("busy plate: one raft, then 900 supports around 12 lattice bodies") {
  PlateSettings s;
  s.size = {1920, 1080};
  s.pitch = {0.05, 0.05};
  s.layers = 60;
  CHECK(count_pieces(draw_plate_layer(s, 1)) == 1);
  const Layer layer = draw_plate_layer(s, 20);
  const int pieces = count_pieces(layer);
  CHECK(pieces >= 900 + 12);
  const double share = static_cast<double>(area_px(solid(layer))) / (1920.0 * 1080.0);
  CHECK(share > 0.01);
  CHECK(share < 0.4);
  CHECK(decode(layer) == decode(draw_plate_layer(s, 20)));
  s.edges = Edges::hard;
  for (const Run& run : draw_plate_layer(s, 20).runs) REQUIRE(run.value == 255);
}

TEST_CASE("sparse plate: one figure that covers little of the plate and rests on the layer below") {
  PlateSettings s;
  s.kind = PlateKind::sparse;
  s.size = {1280, 720};
  s.layers = 100;
  Mask below;
  for (std::uint32_t n = 1; n <= s.layers; ++n) {
    const Mask now = solid(draw_plate_layer(s, n));
    CHECK(area_px(now) > 0);
    CHECK(area_px(now) < 1280 * 720 / 10);
    if (n > 1) CHECK(area_px(now) > area_px(minus(now, below)));
    below = now;
  }
}

TEST_CASE("plates at odd sizes and unequal pitch draw without trouble") {
  for (const Size size : {Size{1, 1}, Size{64, 48}, Size{301, 777}}) {
    for (const PlateKind kind : {PlateKind::busy, PlateKind::sparse}) {
      PlateSettings s;
      s.kind = kind;
      s.size = size;
      s.pitch = {0.05, 0.06};
      s.layers = 30;
      for (const std::uint32_t n : {1u, 15u, 30u}) CHECK(draw_plate_layer(s, n).size == size);
    }
  }
}

namespace {

constexpr PlateKind hard_kinds[] = {PlateKind::turning, PlateKind::gyroid, PlateKind::dithered, PlateKind::letters};

// 1/5 of the size of the large plates in each direction, bodies of 192 x 144 pixels.
PlateSettings small_hard(PlateKind kind) {
  PlateSettings s;
  s.kind = kind;
  s.size = {1536, 864};
  s.body_share = 0.5;
  s.layers = 100;
  return s;
}

// Is the pixel within a body, or on its border?
bool in_body(std::size_t at, const PlateSettings& s) {
  const std::size_t x = at % s.size.width_px % 384, y = at / s.size.width_px % 288;
  return x >= 95 && x <= 288 && y >= 71 && y <= 216;
}

// FNV-1a (Fowler, Noll and Vo), 64 bits.
std::uint64_t fingerprint(const Layer& layer) {
  std::uint64_t hash = 0xcbf29ce484222325u;
  for (const std::uint8_t value : decode(layer)) hash = (hash ^ value) * 0x100000001b3u;
  return hash;
}

}  // namespace

TEST_CASE("hard plates: raft and supports of the busy plate, twelve bodies in a shell") {
  for (const PlateKind kind : hard_kinds) {
    const PlateSettings s = small_hard(kind);
    PlateSettings busy = s;
    busy.kind = PlateKind::busy;
    CHECK(draw_plate_layer(s, 3).runs == draw_plate_layer(busy, 3).runs);
    const auto pixels = decode(draw_plate_layer(s, 50)), around = decode(draw_plate_layer(busy, 50));
    std::size_t differ = 0, solid_corners = 0;
    for (std::size_t i = 0; i < pixels.size(); ++i) differ += !in_body(i, s) && pixels[i] != around[i];
    for (std::size_t body = 0; body < plate_bodies; ++body)
      solid_corners += pixels[(body / 4 * 288 + 72) * 1536 + body % 4 * 384 + 96] == 255;
    CHECK(differ == 0);
    CHECK(solid_corners == plate_bodies);
  }
}

TEST_CASE("hard plates: half as far in twice as many layers is the same picture, and none without a turn") {
  for (const PlateKind kind : {PlateKind::turning, PlateKind::gyroid, PlateKind::dithered}) {
    PlateSettings s = small_hard(kind);
    s.turn_px = 4;
    PlateSettings slow = s;
    slow.turn_px = 2;
    const auto once = decode(draw_plate_layer(s, 20)), twice = decode(draw_plate_layer(slow, 40));
    slow.turn_px = 0;
    const auto still = decode(draw_plate_layer(slow, 20)), later = decode(draw_plate_layer(slow, 40));
    const auto next = decode(draw_plate_layer(s, 21));
    std::size_t other = 0, moved = 0, moved_without_turn = 0;
    for (std::size_t i = 0; i < once.size(); ++i) {
      if (!in_body(i, s)) continue;
      other += once[i] != twice[i];
      moved += once[i] != next[i];
      moved_without_turn += still[i] != later[i];
    }
    CHECK(other == 0);
    CHECK(moved > 12 * 192 * 144 / 50);
    CHECK(moved_without_turn == 0);
  }
}

TEST_CASE("turning ribs: half a circle at the side of a body in ten layers turns it about its middle") {
  PlateSettings s = small_hard(PlateKind::turning);
  s.body_share = 1;  // the first body is 384 x 288 pixels at the plate's corner
  s.turn_px = std::numbers::pi * 192 / 10;
  const auto before = decode(draw_plate_layer(s, 17)), after = decode(draw_plate_layer(s, 27));
  std::size_t differ = 0;
  for (std::size_t y = 5; y < 284; ++y)  // without the shell
    for (std::size_t x = 5; x < 380; ++x) differ += before[y * 1536 + x] != after[(288 - y) * 1536 + 384 - x];
  CHECK(differ == 0);
}

TEST_CASE("letters: sunk for eight layers of twelve, over three thousand on a plate") {
  PlateSettings s = small_hard(PlateKind::letters);
  s.body_share = 1;  // bodies of 384 x 288 pixels side by side, as they are at 7680 x 4320
  CHECK(area_px(solid(draw_plate_layer(s, 8))) == std::uint64_t{1536} * 864);
  CHECK(area_px(solid(draw_plate_layer(s, 11))) == std::uint64_t{1536} * 864);
  const Layer sunk = inverted(draw_plate_layer(s, 12));
  CHECK(count_pieces(sunk) == 12 * 270);  // 12 lines of 26, of which 42 are spaces
}

TEST_CASE("noise: as many pixels as its share says, others in every layer, the same on any machine") {
  PlateSettings s;
  s.kind = PlateKind::noise;
  s.size = {1000, 800};
  for (const double share : {0.01, 0.5}) {
    s.body_share = share;
    const Mask one = solid(draw_plate_layer(s, 1)), two = solid(draw_plate_layer(s, 2));
    // Within five standard deviations of a binomial count (closed form).
    const auto within = [](std::uint64_t count, double p) {
      return std::abs(static_cast<double>(count) - 800000 * p) < 5 * std::sqrt(800000 * p * (1 - p));
    };
    CHECK(within(area_px(one), share));
    CHECK(within(area_px(one) - area_px(minus(one, two)), share * share));
  }
  CHECK(fingerprint(draw_plate_layer(s, 33)) == 0xfbc39ab3dc761742);
}

TEST_CASE("hard plates: hard edges, odd sizes, and the same pixels on any machine") {
  const std::uint64_t known[] = {0x6c1e074f956a1b80, 0xc00351875ea1b0df, 0x2f96c4f9de253721, 0x9bbe0833681c7325};
  for (std::size_t i = 0; i < 4; ++i) {
    PlateSettings s = small_hard(hard_kinds[i]);
    CHECK(fingerprint(draw_plate_layer(s, 33)) == known[i]);
    s.edges = Edges::hard;
    for (const Run& run : draw_plate_layer(s, 33).runs) REQUIRE(run.value == 255);
    for (const Size size : {Size{1, 1}, Size{64, 48}, Size{301, 777}}) {
      s.size = size;
      CHECK(draw_plate_layer(s, 9).size == size);
    }
  }
}
