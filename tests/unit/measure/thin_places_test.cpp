#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <functional>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "hairline/measure.hpp"
#include "support/random.hpp"
#include "support/slow_measure.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

constexpr Pitch unit{1, 1};  // widths come out in pixels
constexpr ThicknessSettings limit_12{12, 120};

using Shape = std::function<bool(double x, double y)>;

Picture drawn(Size size, const Shape& inside) {
  Picture out(size);
  for (std::uint32_t r = 0; r < size.height_px; ++r)
    for (std::uint32_t c = 0; c < size.width_px; ++c) out.at(r, c) = inside(c + 0.5, r + 0.5);
  return out;
}

Picture inverted(const Picture& in) {
  Picture out(in.size);
  std::transform(in.pixels.begin(), in.pixels.end(), out.pixels.begin(),
                 [](std::uint8_t pixel) { return static_cast<std::uint8_t>(1 - pixel); });
  return out;
}

/// A bar of `width` and 90 long, turned by `degrees`, in the middle of 120 x 120; moved by parts of a pixel.
Shape bar(double width, double degrees, double move = 0) {
  const double a = degrees * std::numbers::pi / 180, x0 = 60.5 + move, y0 = 60.5 + 0.6 * move;
  return [=](double x, double y) {
    const double u = (x - x0) * std::cos(a) + (y - y0) * std::sin(a);
    const double v = (y - y0) * std::cos(a) - (x - x0) * std::sin(a);
    return std::abs(v) < width / 2 && std::abs(u) < 45;
  };
}

ThinPlaces places(const Picture& picture, RowSharing sharing = RowSharing::on) {
  return find_thin_places(mask_of(picture, sharing), unit, limit_12);
}

std::optional<double> thinnest_px(const std::vector<ThinPlace>& list) {
  const std::optional<ThinPlace> place = thinnest(list);
  return place ? std::optional<double>(place->width_mm) : std::nullopt;
}

std::vector<float> widths(const std::vector<ThinPlace>& list) {
  std::vector<float> out;
  for (const ThinPlace& place : list) out.push_back(place.width_mm);
  std::sort(out.begin(), out.end());
  return out;
}

bool equal(const std::vector<ThinPlace>& p, const std::vector<ThinPlace>& q) {
  return std::equal(p.begin(), p.end(), q.begin(), q.end(), [](const ThinPlace& a, const ThinPlace& b) {
    return a.row == b.row && a.col == b.col && a.width_mm == b.width_mm;
  });
}

/// Smooth random islands and bays: a sum of plane waves, cut at a level.
Picture waves(std::uint64_t seed) {
  Random random(seed);
  struct Wave {
    double kx, ky, phase;
  };
  std::vector<Wave> list(12);
  for (Wave& wave : list) {
    const double k = random.between_real(0.1, 0.7), a = random.between_real(0, 2 * std::numbers::pi);
    wave = {k * std::cos(a), k * std::sin(a), random.between_real(0, 2 * std::numbers::pi)};
  }
  const double level = random.between_real(-1, 1);
  return drawn({70, 70}, [&](double x, double y) {
    double sum = 0;
    for (const Wave& wave : list) sum += std::cos(wave.kx * x + wave.ky * y + wave.phase);
    return sum > level;
  });
}

/// The least way from empty to empty by way of a pixel, turning by at most 70 degrees on it; pixel by pixel.
double shortest_way_across(const Picture& picture, const ThinPlace& place) {
  constexpr int sectors = 72, reach = 16;
  std::array<double, sectors> nearest;
  nearest.fill(1e9);
  for (int dy = -reach; dy <= reach; ++dy) {
    for (int dx = -reach; dx <= reach; ++dx) {
      if (picture.set(std::int64_t{place.row} + dy, std::int64_t{place.col} + dx)) continue;
      const double turn = std::atan2(dy, dx) / (2 * std::numbers::pi) + 1;
      double& sector = nearest[static_cast<std::size_t>(turn * sectors) % sectors];
      sector = std::min(sector, std::hypot(dx, dy) - 0.5);
    }
  }
  double best = 1e9;
  for (int i = 0; i < sectors; ++i)
    for (int j = i + 22; j <= i + 50; ++j)
      best = std::min(best, nearest[static_cast<std::size_t>(i)] + nearest[static_cast<std::size_t>(j % sectors)]);
  return best;
}

}  // namespace

TEST_CASE("walls of 2 to 10 pixels at any angle: within one pixel of the truth and of the opening twin") {
  for (const double degrees : {0.0, 17.0, 30.0, 45.0, 60.0, 73.0, 90.0}) {
    for (int width = 2; width <= 10; ++width) {
      for (const double move : {0.0, 0.23, 0.41}) {
        INFO("angle " << degrees << " width " << width << " moved by " << move);
        const Picture wall = drawn({120, 120}, bar(width, degrees, move));
        const ThinPlaces found = places(wall);
        REQUIRE(thinnest_px(found.walls));
        CHECK(*thinnest_px(found.walls) == Approx(width).margin(1.0));
        CHECK(found.gaps.empty());
        CHECK(found.walls.size() >= 30);  // all along the wall, not only somewhere
        const std::optional<double> gap = thinnest_px(places(inverted(wall)).gaps);
        REQUIRE(gap);
        CHECK(*gap == Approx(width).margin(1.0));
      }
      // Moved, so that no side runs through a row of pixel centres.
      const Picture wall = drawn({120, 120}, bar(width, degrees, 0.13));
      const std::optional<double> twin = slow_thinnest(wall, 12);
      if (twin)
        CHECK(*thinnest_px(places(wall).walls) == Approx(*twin).margin(1.0));
      else  // too coarse for the twin: every pixel looks like a corner's to it
        CHECK(width == 2);
    }
  }
}

TEST_CASE("upright and level walls and slots are exact") {
  for (std::uint32_t width = 1; width <= 12; ++width) {
    INFO("width " << width);
    Picture wall(Size{40, 60});
    for (std::uint32_t r = 5; r < 55; ++r)
      for (std::uint32_t c = 10; c < 10 + width; ++c) wall.at(r, c) = 1;
    for (const Picture& picture : {wall, turned(wall)}) {
      const std::vector<ThinPlace> walls = places(picture).walls;
      REQUIRE_FALSE(walls.empty());
      for (const ThinPlace& place : walls) CHECK(place.width_mm == static_cast<float>(width));
      const std::vector<ThinPlace> gaps = places(inverted(picture)).gaps;
      REQUIRE_FALSE(gaps.empty());
      CHECK(gaps.size() == walls.size());
      for (const ThinPlace& place : gaps) CHECK(place.width_mm == static_cast<float>(width));
    }
  }
}

TEST_CASE("a wall grown on a block is as thin as the wall") {
  for (const double degrees : {90.0, 73.0, 60.0}) {
    for (int width = 2; width <= 10; ++width) {
      INFO("angle " << degrees << " width " << width);
      const Shape wall = bar(width, degrees);
      const Picture picture = drawn({120, 120}, [&](double x, double y) { return y > 80 || wall(x, y); });
      REQUIRE(thinnest_px(places(picture).walls));
      CHECK(*thinnest_px(places(picture).walls) == Approx(width).margin(1.0));
    }
  }
}

TEST_CASE("rings and discs") {
  for (const double radius : {20.0, 35.0}) {
    for (int width = 1; width <= 11; ++width) {
      INFO("radius " << radius << " width " << width);
      const Picture ring = drawn({90, 90}, [&](double x, double y) {
        const double d = std::hypot(x - 45.2, y - 44.9);
        return d < radius && d > radius - width;
      });
      const ThinPlaces found = places(ring);
      REQUIRE(thinnest_px(found.walls));
      CHECK(*thinnest_px(found.walls) == Approx(width).margin(1.0));
      CHECK(found.gaps.size() == (2 * (radius - width) < 12 ? found.gaps.size() : 0));
    }
  }
  // A disc is as thick as its diameter (closed form), wherever the grid cuts it. Outside judge: OpenCV's
  // distanceTransform (exact L2): the disc inscribed in its pixels, 2 (distance to the nearest empty pixel's centre) -
  // 1 across, is a lower bound.
  for (int diameter = 2; diameter <= 11; ++diameter) {
    for (const double offset : {0.0, 0.1, 0.25, 0.4, 0.5, 0.75}) {
      INFO("diameter " << diameter << " offset " << offset);
      const Picture disc = drawn({40, 40}, [&](double x, double y) {
        return std::hypot(x - 20 - offset, y - 20 + 2 * offset) < diameter / 2.0;
      });
      cv::Mat distance;
      cv::Mat pixels(40, 40, CV_8UC1, const_cast<std::uint8_t*>(disc.pixels.data()));
      cv::distanceTransform(pixels, distance, cv::DIST_L2, cv::DIST_MASK_PRECISE);
      double inside = 0;
      cv::minMaxLoc(distance, nullptr, &inside);
      const auto wall = thinnest_px(places(disc).walls), gap = thinnest_px(places(inverted(disc)).gaps);
      REQUIRE(wall);
      CHECK(*wall == Approx(diameter).margin(1.0001));
      CHECK(*wall >= 2 * inside - 1 - 0.01);
      REQUIRE(gap);
      CHECK(*gap == Approx(diameter).margin(1.0001));
    }
  }
}

TEST_CASE("every place on a wall agrees with OpenCV's distance transform") {
  for (const double degrees : {0.0, 17.0, 45.0, 73.0}) {
    for (int width = 2; width <= 10; ++width) {
      Picture wall = drawn({120, 120}, bar(width, degrees, 0.1));
      cv::Mat distance;
      cv::distanceTransform(cv::Mat(120, 120, CV_8UC1, wall.pixels.data()), distance, cv::DIST_L2,
                            cv::DIST_MASK_PRECISE);
      for (const ThinPlace& place : places(wall).walls) {
        INFO("angle " << degrees << " width " << width << " at " << place.row << ", " << place.col);
        // The axis may lie beside the pixel, so the largest of the nine around it is taken. The nearest empty centre
        // lies half a pixel beyond an upright side, and hardly beyond a turned one, so the wall is 2 d - 1 to 2 d
        // across.
        double d = 0;
        for (std::uint32_t r = place.row - 1; r <= place.row + 1; ++r)
          for (std::uint32_t c = place.col - 1; c <= place.col + 1; ++c)
            d = std::max<double>(d, distance.at<float>(static_cast<int>(r), static_cast<int>(c)));
        CHECK(place.width_mm == Approx(2 * d - 0.5).margin(1.0));
      }
    }
  }
}

TEST_CASE("blocks thicker than the limit have no thin place, however they are turned") {
  for (int degrees = 0; degrees < 90; degrees += 3) {
    for (const double move : {0.0, 0.3}) {
      INFO("angle " << degrees << " moved by " << move);
      const double a = degrees * std::numbers::pi / 180;
      const Picture block = drawn({100, 100}, [&](double x, double y) {
        const double u = (x - 50 - move) * std::cos(a) + (y - 50) * std::sin(a);
        const double v = (y - 50) * std::cos(a) - (x - 50 - move) * std::sin(a);
        return std::abs(u) < 25 && std::abs(v) < 25;
      });
      CHECK(places(block).walls.empty());
      CHECK(places(block).gaps.empty());
      CHECK(places(inverted(block)).gaps.empty());
    }
  }
  CHECK(places(drawn({60, 60}, [](double x, double y) { return std::hypot(x - 30, y - 30) < 20; })).walls.empty());
}

TEST_CASE("inner corners are no gaps, notches and slots open to one side are") {
  const Picture corner = drawn({80, 80}, [](double x, double y) { return x < 30 || y > 50; });
  CHECK(places(corner).gaps.empty());
  const Picture slot = drawn({80, 80}, [](double x, double y) { return y > 30 && !(x > 40 && x < 45 && y < 60); });
  REQUIRE(thinnest_px(places(slot).gaps));
  CHECK(*thinnest_px(places(slot).gaps) == 5);
  for (const Picture& turn : {turned(slot), turned(turned(slot))}) CHECK(*thinnest_px(places(turn).gaps) == 5);
  // Against the image border there is nothing to close the gap.
  const Picture beside_border = drawn({80, 80}, [](double x, double) { return x > 5; });
  CHECK(places(beside_border).gaps.empty());
}

TEST_CASE("the thinnest place is where the wall is thinnest") {
  const Picture wall = drawn({60, 80}, [](double x, double y) {
    const double half = y > 38 && y < 44 ? 2 : 4;
    return y > 5 && y < 75 && std::abs(x - 30) < half;
  });
  const std::optional<ThinPlace> place = thinnest(places(wall).walls);
  REQUIRE(place);
  CHECK(place->width_mm == 4);
  CHECK(place->row >= 38);
  CHECK(place->row < 44);
  CHECK(place->col == 30);
}

TEST_CASE("a blade is thin at its edge") {
  // 20 degrees from point to back: thinner and thinner, and that is no corner.
  const Picture blade = drawn({60, 60}, [](double x, double y) {
    return y > 5 && y < 50 && std::abs(x - 30) < (y - 5) * std::tan(10 * std::numbers::pi / 180);
  });
  REQUIRE(thinnest_px(places(blade).walls));
  CHECK(*thinnest_px(places(blade).walls) <= 2);
}

TEST_CASE("the smallest things have sane widths") {
  CHECK(*thinnest_px(places(picture_of("...\n.#.\n...\n")).walls) == 1);
  CHECK(*thinnest_px(places(inverted(picture_of(".....\n.....\n..#..\n.....\n.....\n"))).gaps) == 1);
  CHECK(*thinnest_px(places(picture_of("##\n##\n")).walls) == 2);
  CHECK(*thinnest_px(places(picture_of("#########\n")).walls) == 1);
  CHECK(*thinnest_px(places(picture_of("#....\n.#...\n..#..\n...#.\n....#\n")).walls) == 1);
  const Picture checkers =
      drawn({20, 20}, [](double x, double y) { return (static_cast<int>(x) + static_cast<int>(y)) % 2 == 0; });
  CHECK(places(checkers).walls.size() >= 190);  // one or two in the corners of the image may count as tips
  for (const ThinPlace& place : places(checkers).walls) CHECK(place.width_mm == 1);
  for (const ThinPlace& place : places(checkers).gaps) CHECK(place.width_mm == 1);
  CHECK(places(Picture(Size{30, 20})).walls.empty());
  CHECK(places(inverted(Picture(Size{30, 20}))).walls.empty());
  CHECK(places(inverted(Picture(Size{30, 20}))).gaps.empty());
  CHECK(find_thin_places(Mask{}, unit).walls.empty());
  CHECK_FALSE(thinnest({}).has_value());
}

TEST_CASE("unequal pitch: widths are in mm across the wall") {
  const Pitch pitch{0.05, 0.06};
  Picture wall(Size{60, 60});
  for (std::uint32_t r = 10; r < 50; ++r)
    for (std::uint32_t c = 20; c < 24; ++c) wall.at(r, c) = 1;
  CHECK(thinnest(find_thin_places(mask_of(wall), pitch).walls)->width_mm == Approx(4 * 0.05));
  CHECK(thinnest(find_thin_places(mask_of(turned(wall)), pitch).walls)->width_mm == Approx(4 * 0.06));
  for (const double degrees : {20.0, 45.0, 70.0}) {
    for (const double width_mm : {0.15, 0.3, 0.45}) {
      INFO("angle " << degrees << " width " << width_mm);
      const double a = degrees * std::numbers::pi / 180;
      const Picture slanted = drawn({120, 100}, [&](double x, double y) {
        const double xm = (x - 60) * pitch.x_mm, ym = (y - 50) * pitch.y_mm;
        return std::abs(ym * std::cos(a) - xm * std::sin(a)) < width_mm / 2 &&
               std::abs(xm * std::cos(a) + ym * std::sin(a)) < 2;
      });
      CHECK(thinnest(find_thin_places(mask_of(slanted), pitch).walls)->width_mm == Approx(width_mm).margin(0.06));
      CHECK(thinnest(find_thin_places(mask_of(inverted(slanted)), pitch).gaps)->width_mm ==
            Approx(width_mm).margin(0.06));
    }
  }
}

TEST_CASE("the limit is a limit, and a wall of just the limit counts") {
  Picture wall(Size{60, 60});
  for (std::uint32_t r = 10; r < 50; ++r)
    for (std::uint32_t c = 20; c < 32; ++c) wall.at(r, c) = 1;
  CHECK(thinnest(find_thin_places(mask_of(wall), {0.05, 0.05}).walls)->width_mm == Approx(0.6));
  CHECK(find_thin_places(mask_of(wall), {0.05, 0.05}, {0.59, 120}).walls.empty());
  CHECK(find_thin_places(mask_of(wall), {0.051, 0.051}).walls.empty());
}

TEST_CASE("random shapes against the opening twin") {
  // The twin never sees anything clearly thinner. Where it sees less (a neck shorter than wide is covered by the discs
  // on both sides of it), a way across the place proves the width.
  std::size_t compared = 0, thinner = 0;
  for (std::uint64_t seed = 0; seed < 120; ++seed) {
    INFO("seed " << seed);
    const Picture picture = waves(seed);
    const std::optional<ThinPlace> fast = thinnest(places(picture).walls);
    const std::optional<double> slow = slow_thinnest(picture, 12);
    if (slow) {
      REQUIRE(fast);
      CHECK(fast->width_mm <= *slow + 1.0);
      ++compared;
    }
    if (fast && (!slow || fast->width_mm < *slow - 1.0)) {
      CHECK(shortest_way_across(picture, *fast) <= fast->width_mm + 1.0);
      ++thinner;
    }
  }
  CHECK(compared > 80);
  CHECK(thinner < 12);
}

TEST_CASE("no place is reported thinner than the shape around it") {
  for (std::uint64_t seed = 300; seed < 330; ++seed) {
    const Picture picture = waves(seed);
    for (const ThinPlace& place : places(picture).walls) {
      INFO("seed " << seed << " at " << place.row << ", " << place.col << " width " << place.width_mm);
      CHECK(picture.set(place.row, place.col));
      CHECK(shortest_way_across(picture, place) <= place.width_mm + 1.0);
    }
    for (const ThinPlace& place : places(picture).gaps) CHECK_FALSE(picture.set(place.row, place.col));
  }
}

TEST_CASE("lists are sorted and hold each pixel once") {
  const ThinPlaces found = places(waves(7));
  for (const std::vector<ThinPlace>& list : {found.walls, found.gaps}) {
    REQUIRE_FALSE(list.empty());
    for (std::size_t i = 1; i < list.size(); ++i)
      CHECK(std::pair(list[i - 1].row, list[i - 1].col) < std::pair(list[i].row, list[i].col));
  }
}

TEST_CASE("thin places under symmetry, doubling and row sharing") {
  for (std::uint64_t seed = 600; seed < 660; ++seed) {
    INFO("seed " << seed);
    const Picture picture =
        seed % 2 == 0 ? waves(seed)
                      : drawn({120, 120}, bar(static_cast<double>(2 + seed % 9), static_cast<double>(seed % 90)));
    const ThinPlaces plain = places(picture);
    for (const Picture& same : {mirrored(picture), turned(picture), turned(turned(picture))}) {
      const ThinPlaces other = places(same);
      // An even run has two middle pixels, so a place may move by a pixel and fall together with another one: the least
      // width is equal, the number roughly so.
      CHECK(thinnest_px(other.walls) == thinnest_px(plain.walls));
      CHECK(thinnest_px(other.gaps) == thinnest_px(plain.gaps));
      CHECK(std::abs(static_cast<double>(other.walls.size()) - static_cast<double>(plain.walls.size())) <=
            0.35 * static_cast<double>(plain.walls.size()) + 2);
    }
    const ThinPlaces moved = places(shifted(picture, 7, 5));
    CHECK(widths(moved.walls) == widths(plain.walls));
    CHECK(widths(moved.gaps) == widths(plain.gaps));
    CHECK(equal(places(picture, RowSharing::off).walls, plain.walls));
    CHECK(equal(places(picture, RowSharing::off).gaps, plain.gaps));
  }
  // Doubled pixels at half the pitch are the same shape.
  for (std::uint32_t width = 1; width <= 6; ++width) {
    const Picture wall =
        drawn({60, 60}, [&](double x, double y) { return x > 20 && x < 20 + width && y > 5 && y < 50; });
    const ThinPlaces once = places(wall), twice = find_thin_places(mask_of(doubled(wall)), {0.5, 0.5}, limit_12);
    CHECK(thinnest_px(once.walls) == thinnest_px(twice.walls));
  }
}

TEST_CASE("tall blocks with shared rows give a place on every row") {
  Picture wall(Size{30, 400});
  for (std::uint32_t r = 10; r < 390; ++r)
    for (std::uint32_t c = 12; c < 15; ++c) wall.at(r, c) = 1;
  const std::vector<ThinPlace> walls = places(wall).walls;
  REQUIRE(walls.size() == 378);  // all but the two rows at the ends, where the end is nearer than the sides
  CHECK(walls.front().row == 11);
  CHECK(walls.back().row == 388);
}
