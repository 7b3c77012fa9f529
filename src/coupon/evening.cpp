// From a record to the coupons that are printed and read for it in an evening.
#include <fmt/format.h>

#include "../calibrate/reading_fields.hpp"
#include "hairline/coupon.hpp"

namespace hairline {
namespace {

constexpr Range guesses{0.2, 60, false, "s"}, times{0.1, 99.99, false, "s"};

}  // namespace

CouponSettings coupon_for(const ResinRecord& record) {
  CouponSettings settings;
  if (record.printer.pitch_mm) settings.pitch = {*record.printer.pitch_mm, *record.printer.pitch_mm};
  settings.layer_height_mm = record.layer_height_mm;
  settings.resin_label = record.resin.label;
  settings.printer_label = record.printer.label;
  settings.record_file = record.file;
  return settings;
}

std::string guess_misfit(const std::string& text) {
  const auto guess = typed_number(text, guesses).value;
  if (guess && guesses.holds(*guess)) return "";
  return fmt::format("{} does not fit; expected {}", quoted(text, guesses), guesses.words());
}

std::vector<double> times_around(const std::string& guess) {
  return bracket_around(typed_number(guess, guesses).value.value_or(0));
}

std::string times_misfit(const std::string& text, CouponSettings settings) {
  settings.exposures_s = times_from(text);
  if (settings.exposures_s.empty()) return fmt::format("\"{}\" does not fit; expected times such as 2.0 2.4 2.8", text);
  const auto coupon = lay_out_coupon(settings);
  return coupon ? "" : to_paragraph(coupon.error());
}

std::vector<double> times_from(const std::string& text) {
  return typed_numbers(text, times);
}

std::vector<double> coupons_to_read(const std::filesystem::path& dir, const ResinRecord& record) {
  std::vector<double> open = coupons_in(dir);
  std::erase_if(open, [&](double exposure_s) { return cells_at(record, exposure_s).count("look") > 0; });
  return open;
}

}  // namespace hairline
