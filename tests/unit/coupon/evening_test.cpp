// Which coupons are printed for a record, and which are still to be read.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "hairline/coupon.hpp"

using namespace hairline;
namespace fs = std::filesystem;

TEST_CASE("a coupon is read when the record has its look") {
  const fs::path folder = fs::temp_directory_path() / ("hairline-evening-" + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  ResinRecord record;
  CHECK(coupons_to_read(folder, record).empty());
  for (const double exposure_s : {2.8, 2.0, 2.4}) std::ofstream(folder / coupon_file_name(exposure_s)) << "x";
  BracketReading sizes_alone, looked_at;
  sizes_alone.exposure_s = 2.0;
  sizes_alone.thinnest_wall_mm = 0.1;
  looked_at.exposure_s = 2.4;
  looked_at.look = Look::crisp;
  record.bracket = {sizes_alone, looked_at};
  CHECK(coupons_to_read(folder, record) == std::vector{2.0, 2.8});
  fs::remove_all(folder);
}

TEST_CASE("guesses and times as they are typed") {
  CHECK(guess_misfit("2,4 s").empty());
  CHECK(guess_misfit("0") == "\"0\" does not fit; expected a number from 0.2 to 60 s");
  CHECK(times_around("2400 ms") == bracket_around(2.4));
  ResinRecord record;
  record.printer.pitch_mm = 0.05;
  record.resin.label = "harbour grey";
  const CouponSettings settings = coupon_for(record);
  CHECK(settings.pitch.y_mm == 0.05);
  CHECK(settings.resin_label == "harbour grey");
  CHECK(times_misfit("2,0 2,4 2,8", settings).empty());
  CHECK(times_misfit("soon", settings) == "\"soon\" does not fit; expected times such as 2.0 2.4 2.8");
  CHECK(times_misfit("2.4 2.4", settings).find("2.4") != std::string::npos);
  CHECK(times_from("2.0 2.4") == std::vector{2.0, 2.4});
}
