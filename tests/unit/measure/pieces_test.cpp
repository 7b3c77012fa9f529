#include <algorithm>
#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include "hairline/measure.hpp"
#include "support/random.hpp"
#include "support/slow_measure.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

/// Blobs, bars and noise in one of several densities; rows often repeat.
Picture random_picture(std::uint64_t seed) {
  Random random(seed);
  Picture out(Size{random.between(1, 70), random.between(1, 60)});
  const double density = random.between_real(0.05, 0.9), repeat = random.chance(0.5) ? 0.6 : 0.0;
  for (std::uint32_t r = 0; r < out.size.height_px; ++r) {
    const bool repeats = r > 0 && random.chance(repeat);
    for (std::uint32_t c = 0; c < out.size.width_px; ++c)
      out.at(r, c) = repeats ? out.at(r - 1, c) : static_cast<std::uint8_t>(random.chance(density));
  }
  return out;
}

void check_pieces(const Picture& picture, RowSharing sharing) {
  const Mask mask = mask_of(picture, sharing);
  const Pieces fast = find_pieces(mask);
  const Labels labels = slow_labels(picture);
  const std::vector<Piece> slow = slow_pieces(labels);
  REQUIRE(fast.pieces.size() == slow.size());
  for (std::size_t i = 0; i < slow.size(); ++i) {
    CHECK(fast.pieces[i].area_px == slow[i].area_px);
    CHECK(fast.pieces[i].box == slow[i].box);
  }
  REQUIRE(fast.of_span.size() == mask.spans.size());
  bool equal = true;
  for (std::uint32_t r = 0; r < picture.size.height_px; ++r)
    for (std::uint32_t i = mask.rows[r].first; i < mask.rows[r].last; ++i)
      equal &= fast.of_span[i] + 1 == labels.at(r, mask.spans[i].begin);
  CHECK(equal);
}

std::vector<Contact> contacts_of(const Picture& a, const Picture& b, RowSharing sharing) {
  const Mask mask_a = mask_of(a, sharing), mask_b = mask_of(b, sharing);
  return find_contacts(mask_a, find_pieces(mask_a), mask_b, find_pieces(mask_b));
}

}  // namespace

TEST_CASE("pieces touch at corners") {
  const Pieces pieces = find_pieces(mask_of(picture_of(R"(
#...##
.#..##
......
##.#.#
)")));
  REQUIRE(pieces.pieces.size() == 5);
  CHECK(pieces.pieces[0].area_px == 2);
  CHECK(pieces.pieces[0].box == BoxPx{0, 0, 2, 2});
  CHECK(pieces.pieces[1].area_px == 4);
  CHECK(pieces.pieces[1].box == BoxPx{4, 0, 6, 2});
  CHECK(pieces.pieces[4].box == BoxPx{5, 3, 6, 4});
}

TEST_CASE("arms that meet further down are one piece, numbered by the first pixel") {
  const Pieces pieces = find_pieces(mask_of(picture_of(R"(
..#.#.#
#.#.#.#
#.#.###
#.###..
#######
)")));
  REQUIRE(pieces.pieces.size() == 1);
  CHECK(pieces.pieces[0].area_px == 23);
  CHECK(pieces.pieces[0].box == BoxPx{0, 0, 7, 5});
}

TEST_CASE("the middle pixel of a piece is one of its own, at the middle of its box where that is solid") {
  const auto middle = [](const Picture& picture) {
    const Mask mask = mask_of(picture);
    const PixelPx at = middle_pixel(mask, find_pieces(mask), 0);
    return std::pair(at.row, at.col);
  };
  Picture disc({9, 7});
  for (std::uint32_t r = 1; r < 6; ++r)
    for (std::uint32_t c = 2; c < 9; ++c) disc.at(r, c) = 1;
  CHECK(middle(disc) == std::pair(3u, 5u));
  Picture ring = disc;  // its wall is 3 columns wide on the left, 1 on the right
  for (std::uint32_t r = 2; r < 5; ++r)
    for (std::uint32_t c = 5; c < 8; ++c) ring.at(r, c) = 0;
  ring.at(3, 6) = 1;  // a piece of its own
  CHECK(middle(ring) == std::pair(3u, 3u));
}

TEST_CASE("an empty mask has no pieces and no contacts") {
  const Picture empty(Size{5, 4});
  CHECK(find_pieces(mask_of(empty)).pieces.empty());
  CHECK(contacts_of(empty, picture_of("#####\n#####\n#####\n#####\n"), RowSharing::on).empty());
  CHECK(find_pieces(Mask{}).pieces.empty());
}

TEST_CASE("pieces equal flood fill, with and without shared rows") {
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    INFO("seed " << seed);
    const Picture picture = random_picture(seed);
    check_pieces(picture, RowSharing::on);
    check_pieces(picture, RowSharing::off);
  }
}

TEST_CASE("pieces equal OpenCV's connectedComponentsWithStats") {
  for (std::uint64_t seed = 500; seed < 700; ++seed) {
    INFO("seed " << seed);
    Picture picture = random_picture(seed);
    const cv::Mat image(static_cast<int>(picture.size.height_px), static_cast<int>(picture.size.width_px), CV_8UC1,
                        picture.pixels.data());
    cv::Mat labels, stats, centroids;
    const int count = cv::connectedComponentsWithStats(image, labels, stats, centroids, 8, CV_32S);
    std::vector<std::array<std::uint64_t, 5>> theirs, ours;
    for (int i = 1; i < count; ++i) {
      const auto stat = [&](int which) { return static_cast<std::uint64_t>(stats.at<int>(i, which)); };
      theirs.push_back({stat(cv::CC_STAT_LEFT), stat(cv::CC_STAT_TOP), stat(cv::CC_STAT_WIDTH),
                        stat(cv::CC_STAT_HEIGHT), stat(cv::CC_STAT_AREA)});
    }
    for (const Piece& piece : find_pieces(mask_of(picture)).pieces)
      ours.push_back(
          {piece.box.x0, piece.box.y0, piece.box.x1 - piece.box.x0, piece.box.y1 - piece.box.y0, piece.area_px});
    std::sort(theirs.begin(), theirs.end());
    std::sort(ours.begin(), ours.end());
    CHECK(ours == theirs);
  }
}

TEST_CASE("contacts equal counting pixels, with and without shared rows") {
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    INFO("seed " << seed);
    Picture a = random_picture(seed), b = random_picture(seed + 10000);
    Picture fitted(a.size);
    for (std::uint32_t r = 0; r < a.size.height_px; ++r)
      for (std::uint32_t c = 0; c < a.size.width_px; ++c) fitted.at(r, c) = b.set(r, c);
    const std::vector<Contact> slow = slow_contacts(slow_labels(a), slow_labels(fitted));
    CHECK(contacts_of(a, fitted, RowSharing::on) == slow);
    CHECK(contacts_of(a, fitted, RowSharing::off) == slow);
  }
}

TEST_CASE("many pieces meeting in turn give each pair once") {
  // Rows alternate between combs, so the pair last seen is the wrong one most of the time.
  Picture a(Size{400, 300}), b(Size{400, 300});
  for (std::uint32_t r = 0; r < 300; ++r) {
    for (std::uint32_t c = 0; c < 400; ++c) {
      a.at(r, c) = c % 4 < 2;
      b.at(r, c) = r % 3 < 2;
    }
  }
  const std::vector<Contact> contacts = contacts_of(a, b, RowSharing::on);
  CHECK(contacts == slow_contacts(slow_labels(a), slow_labels(b)));
  CHECK(contacts.size() == 100 * 100);
}

TEST_CASE("pieces and contacts keep their areas under symmetry") {
  const auto areas = [](const Picture& picture) {
    std::vector<std::uint64_t> out;
    for (const Piece& piece : find_pieces(mask_of(picture)).pieces) out.push_back(piece.area_px);
    std::sort(out.begin(), out.end());
    return out;
  };
  for (std::uint64_t seed = 900; seed < 950; ++seed) {
    const Picture picture = random_picture(seed);
    const std::vector<std::uint64_t> plain = areas(picture);
    CHECK(areas(mirrored(picture)) == plain);
    CHECK(areas(turned(picture)) == plain);
    CHECK(areas(shifted(picture, 5, 3)) == plain);
    std::vector<std::uint64_t> fourfold = plain;
    for (std::uint64_t& area : fourfold) area *= 4;
    CHECK(areas(doubled(picture)) == fourfold);
  }
}
