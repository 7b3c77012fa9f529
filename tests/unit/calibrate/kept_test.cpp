// What a fit stores, the reader takes.
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/fit.hpp"
#include "hairline/record_edit.hpp"
#include "support/random.hpp"

using namespace hairline;

namespace {

// A time or size anywhere in the range of its field, small and large alike.
double somewhere(test::Random& random, double low, double high) {
  return std::exp(random.between_real(std::log(low), std::log(high)));
}

BracketReading coupon(double exposure_s, std::optional<double> wall_mm = {}, std::optional<double> slot_mm = {}) {
  BracketReading one;
  one.exposure_s = exposure_s;
  one.thinnest_wall_mm = wall_mm;
  one.narrowest_slot_mm = slot_mm;
  return one;
}

CureDepthReading film(double exposure_s, double depth_mm) {
  CureDepthReading one;
  one.exposure_s = exposure_s;
  one.depth_mm = depth_mm;
  return one;
}

ResinRecord some_record(test::Random& random) {
  const auto some = [&](std::uint32_t of) { return random.below(of) == 0; };
  ResinRecord record;
  record.layer_height_mm = somewhere(random, 0.005, 1);
  const double near_s = somewhere(random, 1e-3, 3600);
  const auto time_s = [&] { return std::min(3600.0, near_s * somewhere(random, 0.5, 2)); };
  for (std::uint32_t i = random.below(5); i > 0; --i) {
    BracketReading one = coupon(time_s());
    if (some(2)) one.thinnest_wall_mm = somewhere(random, 0.001, 5);
    if (some(2)) one.narrowest_slot_mm = somewhere(random, 0.001, 5);
    if (some(3)) one.narrowest_flat_slot_mm = somewhere(random, 0.001, 5);
    if (some(2)) one.look = static_cast<Look>(random.below(6));
    record.bracket.push_back(one);
  }
  for (std::uint32_t i = random.below(3); i > 0; --i)
    record.cure_depth.push_back(film(time_s(), somewhere(random, 0.001, 5)));
  return record;
}

}  // namespace

TEST_CASE("a fit is stored so that it can be read again, or refused") {  // ranges of formats/resin-record.md
  test::Random random(15);
  int stored = 0;
  for (int i = 0; i < 150; ++i) {
    ResinRecord record = some_record(random);
    const auto fitted = fit_record(record);
    if (!fitted) {
      CHECK(fitted.error().kind == ErrorKind::invalid);
      continue;
    }
    ++stored;
    apply_fit(record, *fitted, "2026-11-02");
    const std::string text = write_record(record);
    INFO(text);
    const auto again = parse_record(text, "record.json");
    REQUIRE(again);
    CHECK(fitted_model(*again));
  }
  CHECK(stored >= 20);
}

TEST_CASE("the range of a fit ends where times do") {
  ResinRecord record;
  for (const double exposure_s : {2400.0, 3000.0, 3600.0}) record.bracket.push_back(coupon(exposure_s, 0.1, 0.1));
  const auto fitted = fit_record(record);
  REQUIRE(fitted);
  CHECK(fitted->model.valid_to_s == 3600);
}

TEST_CASE("a coupon that was printed but not read yet says nothing of the range") {
  ResinRecord record;
  record.bracket.push_back(coupon(2.5));
  record.cure_depth.push_back(film(5, 0.3));
  const auto fitted = fit_record(record);
  REQUIRE(fitted);
  CHECK(fitted->model.valid_to_s == Approx(assumed_valid_range.to * fitted->model.bond_time_s).epsilon(1e-5));
}
