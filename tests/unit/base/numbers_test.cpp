// Numbers as people type them. Factors: SI prefixes (BIPM, The International System of Units, 9th edition, table 7;
// from memory); the readings of a comma are common practice, no source.
#include "base/numbers.hpp"

#include <catch2/catch.hpp>

using namespace hairline;

namespace {

constexpr Range mm{0, 5, true, "mm"}, seconds{0, 3600, true, "s"}, wide_mm{0, 100, true, "mm"};

std::optional<double> typed(const std::string& text, const Range& range) {
  return typed_number(text, range).value;
}

}  // namespace

TEST_CASE("even steps are 1, 2 or 5 times a power of ten") {
  CHECK(even_step(1) == 1);
  CHECK(even_step(1.001) == 2);
  CHECK(even_step(2.1) == 5);
  CHECK(even_step(5.1) == 10);
  CHECK(even_step(30) == 50);
  CHECK(even_step(0.03) == Approx(0.05));
  CHECK(even_step(0) == 1);
}

TEST_CASE("a number may have a unit of its kind, and a decimal comma") {
  for (const char* text : {"0.05", "0,05", "0.05mm", "0,05 mm", " 0.05 MM ", "50 um", "50um", "50 \xC2\xB5m",
                           "50\xCE\xBCm", "50 microns", "0.005 cm", ".05", "5e-2"}) {
    INFO(text);
    CHECK(typed(text, mm) == 0.05);
  }
  for (const char* text : {"2.5", "2,5", "2.5s", "2.5 sec", "2500 ms", "2500ms", "2,5 seconds"}) {
    INFO(text);
    CHECK(typed(text, seconds) == 2.5);
  }
  CHECK(typed("0,5 min", seconds) == 30);
  CHECK(typed("5 layers", {0, 1000, false, "layers"}) == 5);
  CHECK(typed("70 %", {0, 100, true, "percent"}) == 70);
  CHECK(typed("5 %", {0, 1, false, ""}) == 0.05);
  CHECK(typed("23 \xC2\xB0\x43", {0, 100, false, "degrees C"}) == 23);
  CHECK(typed("1,1 g/ml", {0.1, 10, false, "g/ml"}) == 1.1);
}

TEST_CASE("another unit, or none that is known, is no number, and that is said") {
  CHECK(quoted("2 s", mm) == "\"2 s\" (in s, not mm)");
  CHECK(quoted("0.05 mm", seconds) == "\"0.05 mm\" (in mm, not s)");
  CHECK(quoted("2 cubits", mm) == "\"2 cubits\" (what is \"cubits\"?)");
  CHECK(quoted("thin", mm) == "\"thin\"");
  for (const char* text :
       {"2 s", "2 cubits", "thin", "", "nan", "inf", "1,2,3", "1.2.3", "1,234.5", "0x10", "+1", ","}) {
    INFO(text);
    CHECK_FALSE(typed(text, mm));
  }
}

TEST_CASE("1,500 is a decimal only where it cannot be a thousand and a half") {
  CHECK_FALSE(typed("1,500", seconds));
  CHECK(quoted("1,500", seconds) == "\"1,500\" (1.5 or 1500? Write it without the comma)");
  CHECK(typed("5,062", wide_mm) == 5.062);  // 5062 mm is no width over a block
  CHECK(typed("0,085", wide_mm) == 0.085);
  CHECK(typed("1,5000", seconds) == 1.5);
  CHECK(typed("1.500", seconds) == 1.5);
}

TEST_CASE("lists: commas lie between numbers, unless spaces or semicolons do") {
  using List = std::vector<double>;
  for (const char* text :
       {"2.0,2.4", "2.0, 2.4", "2,0 2,4", "2,0;2,4", "2.0 2.4", "2.0,2.4 s", "2000 2400 ms", "2s 2.4s"}) {
    INFO(text);
    CHECK(typed_numbers(text, seconds) == List{2, 2.4});
  }
  CHECK(typed_numbers("2,3,4", seconds) == List{2, 3, 4});
  CHECK(typed_numbers("0.08 0.09 0.085", mm) == List{0.08, 0.09, 0.085});
  CHECK(typed_numbers("0,08 0,09 0,085 mm", mm) == List{0.08, 0.09, 0.085});
  CHECK(typed_numbers("80 90 85 um", mm) == List{0.08, 0.09, 0.085});
  CHECK(typed_numbers("80um, 0.09 mm, 0.085", mm) == List{0.08, 0.09, 0.085});
  for (const char* text : {"", "2.0,", "2.0,x", "2.0,7200", "2.0 mm"}) {
    INFO(text);
    CHECK(typed_numbers(text, seconds).empty());
  }
}
