// Lettering and outlines.
#include <algorithm>
#include <catch2/catch.hpp>
#include <limits>
#include <set>
#include <string>

#include "hairline/draw.hpp"

using namespace hairline;

namespace {
constexpr std::string_view all_letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-.";

std::vector<std::uint8_t> drawn(std::string_view text, Size size) {
  Canvas canvas(size, {1, 1});
  canvas.fill(text_outlines(text, {10, 50}, 40, 5), Overlap::join);
  return decode(canvas.take());
}
}  // namespace

TEST_CASE("every character stays within its box and no two look alike") {
  const Size size{50, 60};
  const double width = text_width_mm("A", 40, 5);
  std::set<std::string> seen;
  for (const char c : all_letters) {
    INFO("character " << c);
    const std::vector<std::uint8_t> p = drawn(std::string(1, c), size);
    bool outside = false, any = false;
    for (std::uint32_t r = 0; r < size.height_px; ++r) {
      for (std::uint32_t col = 0; col < size.width_px; ++col) {
        const bool in = r >= 10 && r < 50 && col >= 10 && col < 10 + width;
        any = any || p[r * size.width_px + col] > 0;
        outside = outside || (!in && p[r * size.width_px + col] > 13);  // round ends reach 1 % of a stroke further
      }
    }
    CHECK(any);
    CHECK_FALSE(outside);
    CHECK(seen.insert(std::string(p.begin(), p.end())).second);
  }
}

TEST_CASE("capitals reach the full height and small letters are drawn as capitals") {
  for (const char c : std::string("ABEHLNZ127")) {
    Canvas canvas({50, 60}, {1, 1});
    canvas.fill(text_outlines(std::string(1, c), {10, 50}, 40, 5), Overlap::join);
    const BoxPx box = bounds(solid(canvas.take()));
    CHECK((box.y0 == 10 && box.y1 == 50));
  }
  CHECK(drawn("abc", {150, 60}) == drawn("ABC", {150, 60}));
}

TEST_CASE("text width is that of its letters, spaces included") {
  CHECK(text_width_mm("", 4, 0.5) == 0);
  CHECK(text_width_mm("A A", 4, 0.5) == Approx(text_width_mm("ABA", 4, 0.5)));
  CHECK(text_outlines(" ~", {0, 0}, 4, 0.5).empty());
  double right = 0, left = std::numeric_limits<double>::max();
  for (const OutlineMm& o : text_outlines("HEH", {3, 9}, 4, 0.5)) {
    for (const PointMm& p : o) right = std::max(right, p.x), left = std::min(left, p.x);
  }
  CHECK(left == Approx(3).margin(0.01));
  CHECK(right - 3 == Approx(text_width_mm("HEH", 4, 0.5)).margin(0.01));
}

TEST_CASE("outlines have the area they are named for (shoelace formula)") {
  CHECK(signed_area_mm2(box_outline({1, 1}, {4, 3})) == Approx(6));
  CHECK(std::abs(signed_area_mm2(bar_outline({0, 0}, {3, 4}, 0.2))) == Approx(1));
  CHECK(std::abs(signed_area_mm2(taper_outline({0, 0}, 0.6, {3, 4}, 0))) == Approx(1.5));
  CHECK(signed_area_mm2(disc_outline({1, 2}, 2)) == Approx(3.14159265358979).epsilon(1e-9));
  CHECK(signed_area_mm2(polygon_outline({1, 2}, 2, 12)) == Approx(3.14159265358979).epsilon(1e-9));
  CHECK(bar_outline({1, 1}, {1, 1}, 1).empty());
}
