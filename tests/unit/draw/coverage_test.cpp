// Coverage of drawn shapes against closed forms and against plain supersampling (the slow twin).
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>
#include <random>

#include "hairline/draw.hpp"

using namespace hairline;

namespace {

double sum_px(const Layer& layer) {
  double sum = 0;
  const std::vector<std::uint8_t> pixels = decode(layer);
  for (const std::uint8_t v : pixels) sum += v / 255.0;
  return sum;
}

bool inside(const std::vector<OutlineMm>& outlines, double x, double y, Overlap overlap) {
  int crossings = 0;
  bool any = false;
  for (const OutlineMm& o : outlines) {
    int own = 0;
    for (std::size_t i = 0, j = o.size() - 1; i < o.size(); j = i++) {
      if ((o[j].y <= y) == (o[i].y <= y)) continue;
      if (o[j].x + (y - o[j].y) * (o[i].x - o[j].x) / (o[i].y - o[j].y) > x) ++own;
    }
    any = any || own % 2 == 1;
    crossings += own;
  }
  return overlap == Overlap::join ? any : crossings % 2 == 1;
}

/// Share of each pixel inside, by n x n samples; outlines in pixels.
std::vector<double> supersampled(const std::vector<OutlineMm>& outlines, Size size, Overlap overlap, int n) {
  std::vector<double> share(size.width_px * size.height_px);
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    for (std::uint32_t c = 0; c < size.width_px; ++c) {
      int hits = 0;
      for (int i = 0; i < n * n; ++i) {
        hits += inside(outlines, c + (i % n + 0.5) / n, r + (i / n + 0.5) / n, overlap);
      }
      share[r * size.width_px + c] = hits / double(n * n);
    }
  }
  return share;
}

void compare(const std::vector<OutlineMm>& outlines, Size size, Overlap overlap, double slack, int n = 64) {
  Canvas canvas(size, {1, 1});
  canvas.fill(outlines, overlap);
  const std::vector<std::uint8_t> drawn = decode(canvas.take());
  const std::vector<double> expected = supersampled(outlines, size, overlap, n);
  double worst = 0;
  for (std::size_t i = 0; i < drawn.size(); ++i) worst = std::max(worst, std::abs(drawn[i] / 255.0 - expected[i]));
  CHECK(worst <= slack);
}

}  // namespace

TEST_CASE("a disc covers pi d^2 / 4 (closed form)") {
  for (const double diameter : {0.7, 3.0, 10.3, 80.0}) {
    Canvas canvas({100, 100}, {1, 1});
    canvas.fill_disc({50.3, 49.6}, diameter);
    const double area = std::numbers::pi * diameter * diameter / 4;
    // Each of about 4 d edge pixels is rounded to 1/255, half a step either way, without a leaning.
    CHECK(sum_px(canvas.take()) == Approx(area).margin(0.5 / 255 * std::sqrt(8 * diameter) * 3 + 1e-3 * diameter));
  }
}

TEST_CASE("boxes with sides between pixels have exact grey edges (closed form)") {
  Canvas canvas({8, 6}, {0.5, 0.25});
  canvas.fill_box({0.625, 0.3125}, {2.5, 0.875});  // columns 1.25 to 5, rows 1.25 to 3.5
  const std::vector<std::uint8_t> p = decode(canvas.take());
  const auto at = [&](int r, int c) { return int(p[static_cast<std::size_t>(r * 8 + c)]); };
  CHECK(at(0, 2) == 0);
  CHECK(at(1, 0) == 0);
  CHECK(at(1, 1) == std::lround(255 * 0.75 * 0.75));
  CHECK(at(1, 2) == std::lround(255 * 0.75));
  CHECK(at(2, 1) == std::lround(255 * 0.75));
  CHECK(at(2, 4) == 255);
  CHECK(at(2, 5) == 0);
  CHECK(at(3, 3) == 128);  // exactly half: counts as solid
  CHECK(at(4, 3) == 0);
}

TEST_CASE("slanted bars agree with 64 x 64 samples per pixel within 1/255 and the sampling's own error") {
  for (const double angle_deg : {3.0, 17.0, 45.0, 61.0}) {
    for (const double width : {0.3, 1.0, 2.7}) {
      const double a = angle_deg * std::numbers::pi / 180;
      const PointMm middle{13.37, 12.81};
      const OutlineMm bar = bar_outline({middle.x - 10 * std::cos(a), middle.y - 10 * std::sin(a)},
                                        {middle.x + 10 * std::cos(a), middle.y + 10 * std::sin(a)}, width);
      INFO("angle " << angle_deg << " width " << width);
      // A straight edge through a pixel errs by at most one row of samples: 1/64, less where it is slanted.
      compare({bar}, {26, 26}, Overlap::even_odd, 0.5 / 255 + 2.0 / 64 / 4);
      Canvas canvas({30, 30}, {1, 1});
      canvas.fill({bar});
      CHECK(sum_px(canvas.take()) == Approx(20 * width).margin(0.06));
    }
  }
}

TEST_CASE("random crossing outlines agree with the samples under both rules") {
  std::mt19937 random(7);  // the generator's sequence is fixed by the C++ standard
  const auto number = [&] { return static_cast<double>(random() % 4096) / 4096; };
  for (int round = 0; round < 6; ++round) {
    std::vector<OutlineMm> shapes;
    for (int k = 0; k < 4; ++k) {
      const double x = 2 + 12 * number(), y = 2 + 12 * number();
      shapes.push_back(
          {{x + 6 * number(), y}, {x + 7, y + 6 * number()}, {x + 6 * number(), y + 7}, {x, y + 6 * number()}});
      if (k % 2 == 1) std::reverse(shapes.back().begin(), shapes.back().end());
    }
    INFO("round " << round);
    compare(shapes, {24, 24}, Overlap::even_odd, 0.5 / 255 + 0.03, 24);
    compare(shapes, {24, 24}, Overlap::join, 0.5 / 255 + 0.03, 24);
  }
}

TEST_CASE("a self-crossing star under even-odd has an empty middle") {
  OutlineMm star;
  for (int i = 0; i < 5; ++i) {
    const double a = 2 * std::numbers::pi * (2 * i) / 5;
    star.push_back({16.2 + 13 * std::sin(a), 15.9 - 13 * std::cos(a)});
  }
  compare({star}, {32, 32}, Overlap::even_odd, 0.5 / 255 + 0.03, 24);
  Canvas canvas({32, 32}, {1, 1});
  canvas.fill({star});
  CHECK(decode(canvas.take())[16 * 32 + 16] == 0);
}

TEST_CASE("mirror and quarter turn of a shape give mirrored and turned pixels") {
  const Size size{40, 40};
  const std::vector<OutlineMm> shapes = {disc_outline({13.3, 17.9}, 15.2), bar_outline({5, 6}, {33, 28}, 1.3)};
  const auto drawn = [&](auto map, Overlap overlap) {
    std::vector<OutlineMm> mapped = shapes;
    for (OutlineMm& o : mapped) {
      for (PointMm& p : o) p = map(p);
    }
    Canvas canvas(size, {1, 1});
    canvas.fill(mapped, overlap);
    return decode(canvas.take());
  };
  for (const Overlap overlap : {Overlap::even_odd, Overlap::join}) {
    const auto plain = drawn([](PointMm p) { return p; }, overlap);
    const auto mirrored = drawn([](PointMm p) { return PointMm{40 - p.x, p.y}; }, overlap);
    const auto turned = drawn([](PointMm p) { return PointMm{p.y, p.x}; }, overlap);
    int off = 0;
    for (std::uint32_t r = 0; r < 40; ++r) {
      for (std::uint32_t c = 0; c < 40; ++c) {
        off = std::max(off, std::abs(plain[r * 40 + c] - mirrored[r * 40 + 39 - c]));
        off = std::max(off, std::abs(plain[r * 40 + c] - turned[c * 40 + r]));
      }
    }
    CHECK(off <= 1);
  }
}

TEST_CASE("a centred disc is symmetric to the last bit") {
  Canvas canvas({33, 33}, {1, 1});
  canvas.fill_disc({16.5, 16.5}, 21.7);
  const auto p = decode(canvas.take());
  bool equal = true;
  for (std::uint32_t r = 0; r < 33; ++r) {
    for (std::uint32_t c = 0; c < 33; ++c) {
      equal = equal && p[r * 33 + c] == p[r * 33 + 32 - c] && p[r * 33 + c] == p[(32 - r) * 33 + c] &&
              p[r * 33 + c] == p[c * 33 + r];
    }
  }
  CHECK(equal);
}

TEST_CASE("hard edges follow the pixel centres") {
  Canvas canvas({30, 30}, {1, 1}, Edges::hard);
  const std::vector<OutlineMm> shapes = {disc_outline({14.2, 15.1}, 20), disc_outline({14.2, 15.1}, 9)};
  canvas.fill(shapes);
  const auto p = decode(canvas.take());
  for (std::uint32_t r = 0; r < 30; ++r) {
    for (std::uint32_t c = 0; c < 30; ++c) {
      REQUIRE(p[r * 30 + c] == (inside(shapes, c + 0.5, r + 0.5, Overlap::even_odd) ? 255 : 0));
    }
  }
  // The centre on a left border is in, on a right border out, so neighbours share no pixel and leave no gap.
  canvas.fill_box({2.5, 2}, {5.5, 4});
  const auto q = decode(canvas.take());
  CHECK((q[2 * 30 + 2] == 255 && q[2 * 30 + 4] == 255 && q[2 * 30 + 5] == 0));
}

TEST_CASE("later calls draw over earlier ones, also on grey") {
  Canvas canvas({4, 1}, {1, 1});
  canvas.fill_box({0.5, 0}, {4, 1});
  canvas.fill_box({0, 0}, {0.5, 1});
  canvas.cut_box({2, 0}, {3.25, 1});
  const auto p = decode(canvas.take());
  CHECK(int(p[0]) == 192);  // half (128) over half, taken as independent: 3/4
  CHECK(int(p[1]) == 255);
  CHECK(int(p[2]) == 0);
  CHECK(int(p[3]) == 191);
  canvas.cut_box({0, 0}, {4, 1});
  CHECK(canvas.take().runs.empty());
}

TEST_CASE("outlines outside the image, empty or not finite draw only what is inside") {
  Canvas canvas({10, 10}, {1, 1});
  canvas.fill_box({-50, -50}, {50, 50});
  CHECK(sum_px(canvas.take()) == 100);
  canvas.fill({{{-5, 5}, {15, -5}, {15, 15}}});
  compare({{{-5, 5}, {15, -5}, {15, 15}}}, {10, 10}, Overlap::even_odd, 0.5 / 255 + 0.01);
  canvas.take();
  canvas.fill({{}, {{1, 1}, {2, 2}}, {{1, 1}, {NAN, 2}, {3, 3}}, {{1, 1}, {INFINITY, 2}, {3, 3}}});
  canvas.fill_disc({5, 5}, 0);
  canvas.fill_box({20, 0}, {30, 10});
  CHECK(canvas.take().runs.empty());
}
