// How stretches meet each other and the spans of a mask, against looking at all pairs and pixels.
#include "risk/stretches.hpp"

#include <catch2/catch.hpp>
#include <set>

#include "support/random.hpp"
#include "support/text_mask.hpp"

using namespace hairline;
using namespace hairline::risk;
using hairline::test::Picture;
using hairline::test::Random;

namespace {

std::vector<RowSpan> random_stretches(Random& random) {
  std::vector<RowSpan> out;
  for (std::uint32_t row = 0; row < 12; ++row) {
    for (std::uint32_t col = random.below(4); col < 30; col += random.below(5)) {
      const std::uint32_t end = random.between(col + 1, col + 6);
      out.push_back({row, col, end});
      col = end;
    }
  }
  return out;
}

}  // namespace

TEST_CASE("stretches: all pairs that meet, in any distance of rows and with corners or without") {
  using Pairs = std::multiset<std::pair<std::uint32_t, std::uint32_t>>;
  for (std::uint64_t seed = 0; seed < 50; ++seed) {
    INFO("seed " << seed);
    Random random(seed);
    const std::vector<RowSpan> a = random_stretches(random), b = random_stretches(random);
    for (const std::uint32_t rows_apart : {0u, 1u}) {
      for (const std::uint32_t slack : {0u, 1u}) {
        Pairs expected, met;
        for (std::uint32_t i = 0; i < a.size(); ++i)
          for (std::uint32_t j = 0; j < b.size(); ++j)
            if (b[j].row == a[i].row + rows_apart && b[j].begin < a[i].end + slack && a[i].begin < b[j].end + slack)
              expected.emplace(i, j);
        for_each_meeting(a, b, rows_apart, slack, [&](std::uint32_t i, std::uint32_t j) { met.emplace(i, j); });
        CHECK(met == expected);
      }
    }
  }
}

TEST_CASE("stretches: a scan of a mask's rows meets its pixels") {
  Random random(5);
  Picture picture(Size{60, 20});
  for (std::uint8_t& pixel : picture.pixels) pixel = random.chance(0.6);
  const Mask mask = mask_of(picture);
  RowScan scan(mask);
  for (std::int64_t row = -1; row <= 20; ++row) {
    for (std::int64_t begin = -2; begin < 58; begin += random.below(6)) {
      const std::int64_t end = begin + 1 + random.below(8);
      std::int64_t set = 0;
      std::set<std::uint32_t> spans, found;
      for (std::int64_t col = begin; col < end; ++col) {
        if (!picture.set(row, col)) continue;
        ++set;
        const RowRange range = mask.rows[static_cast<std::size_t>(row)];
        for (std::uint32_t k = range.first; k < range.last; ++k)
          if (mask.spans[k].begin <= col && col < mask.spans[k].end) spans.insert(k);
      }
      std::int64_t met = 0;
      scan.meet(row, begin, end, [&](std::uint32_t, std::int64_t from, std::int64_t to) { met += to - from; });
      CHECK(met == set);
      RowScan(mask).anywhere(row, begin, end, [&](std::uint32_t span) { found.insert(span); });
      CHECK(found == spans);
    }
  }
}

TEST_CASE("stretches: pieces met are one or more") {
  PieceSet set, other;
  CHECK(set.empty());
  set.add(4), set.add(4);
  CHECK((set.first == 4 && !set.more));
  other.add(set), other.add(4);
  CHECK((other.first == 4 && !other.more));
  other.add(2);
  CHECK((other.first == 4 && other.more));
  set.add(other);
  CHECK(set.more);
}
