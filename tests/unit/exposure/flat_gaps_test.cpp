// Gaps between solid above and solid below, against looking up each column of pixels by itself.
#include "exposure/flat_gaps.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <tuple>

#include "support/random.hpp"

using namespace hairline;
using namespace hairline::exposure;
using hairline::test::Random;

namespace {

constexpr std::uint32_t tiles = 3;

// Layers of unequal height, each with some tiles empty, full or speckled; index 0 is the plate, solid everywhere.
struct Stack {
  std::vector<PrintedLayer> plans;
  std::vector<BitBand> solid;

  Stack(Random& random, std::uint32_t layers) : plans(layers), solid(layers + 1) {
    double bottom_mm = 0;
    for (PrintedLayer& printed : plans) {
      printed.height_mm = random.chance(0.5) ? 0.05 : 0.03;
      printed.bottom_mm = bottom_mm;
      bottom_mm += printed.height_mm;
    }
    for (std::uint32_t n = 0; n <= layers; ++n) {
      solid[n].clear(tiles);
      for (std::uint32_t tx = 0; tx < tiles; ++tx) {
        TileBits bits{};
        for (std::uint64_t& row : bits) row = random.next() & random.next();
        if (n == 0 || random.chance(0.1)) bits = all_bits;
        if (n > 0 && random.chance(0.3)) bits = no_bits;
        solid[n].set(tx, bits);
      }
    }
  }
  bool set(std::uint32_t n, std::uint32_t tx, std::uint32_t row, std::uint32_t bit) const {
    return (solid[n].at(tx)[row] >> bit & 1) != 0;
  }
};

using Place = std::tuple<std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t>;  // tile, since, row, bit

// Gaps over the solid of layer n: empty from n + 1 up to the next solid, `since`.
std::vector<Place> slow_gaps(const Stack& stack, std::uint32_t n, double most_mm) {
  std::vector<Place> gaps;
  const auto layers = static_cast<std::uint32_t>(stack.plans.size());
  for (std::uint32_t tx = 0; tx < tiles; ++tx) {
    for (std::uint32_t row = 0; row < tile_h; ++row) {
      for (std::uint32_t bit = 0; bit < tile_w; ++bit) {
        if (!stack.set(n, tx, row, bit)) continue;
        std::uint32_t since = n + 1;
        while (since <= layers && !stack.set(since, tx, row, bit)) ++since;
        if (since == n + 1 || since > layers) continue;
        if (stack.plans[since - 1].bottom_mm - stack.plans[n].bottom_mm > most_mm + 1e-9) continue;
        gaps.emplace_back(tx, since, row, bit);
      }
    }
  }
  std::sort(gaps.begin(), gaps.end());
  return gaps;
}

}  // namespace

TEST_CASE("flat gaps equal columns looked up one by one, from the top layer to the plate") {
  std::size_t found = 0;
  for (std::uint64_t seed = 0; seed < 20; ++seed) {
    INFO("seed " << seed);
    Random random(seed);
    const Stack stack(random, 24);
    const double most_mm = random.between_real(0.02, 0.5);
    FlatGaps gaps(stack.plans, most_mm);
    std::vector<ClosedGap> closed;
    for (std::uint32_t n = 24;; --n) {
      gaps.close(n, stack.solid[n], tiles, closed);
      std::vector<Place> places;
      for (const ClosedGap& gap : closed) {
        CHECK(gap.from == n + 1);
        for (std::uint32_t row = 0; row < tile_h; ++row)
          for (std::uint32_t bit = 0; bit < tile_w; ++bit)
            if ((gap.bits[row] >> bit & 1) != 0) places.emplace_back(gap.tx, gap.since, row, bit);
      }
      // Tile by tile, lowest first.
      CHECK(std::is_sorted(closed.begin(), closed.end(), [](const ClosedGap& a, const ClosedGap& b) {
        return std::pair(a.tx, a.since) < std::pair(b.tx, b.since);
      }));
      std::sort(places.begin(), places.end());
      CHECK(places == slow_gaps(stack, n, most_mm));
      found += places.size();
      if (n == 0) break;
      gaps.add(n, stack.solid[n], tiles);
    }
  }
  CHECK(found > 10000);
}

TEST_CASE("flat gaps: a gap of just the highest that counts, and one a layer higher") {
  std::vector<PrintedLayer> plans(6);
  for (std::size_t i = 0; i < plans.size(); ++i)
    plans[i].height_mm = 0.1, plans[i].bottom_mm = 0.1 * static_cast<double>(i);
  BitBand all, nothing;
  all.clear(1), all.fill(0);
  nothing.clear(1);
  for (const auto& [empty_layers, counts] : {std::pair{3u, true}, std::pair{4u, false}}) {
    FlatGaps gaps(plans, 0.3);
    gaps.add(6, all, 1);
    for (std::uint32_t n = 5; n > 5 - empty_layers; --n) gaps.add(n, nothing, 1);
    std::vector<ClosedGap> closed;
    gaps.close(5 - empty_layers, all, 1, closed);
    REQUIRE(closed.size() == (counts ? 1 : 0));
    if (!counts) continue;
    CHECK(closed[0].from == 3);
    CHECK(closed[0].since == 6);
    CHECK(closed[0].bits == all_bits);
  }
}
