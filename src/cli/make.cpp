// demo, coupon: files written from code.
#include <fmt/format.h>

#include "choose_record.hpp"
#include "commands.hpp"
#include "hairline/coupon.hpp"
#include "hairline/demo.hpp"
#include "hairline/files.hpp"
#include "interrupt.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {

namespace {

using Paths = std::vector<std::filesystem::path>;

int tell_written(const Result<Paths>& written) {
  if (!written) return fail(written.error());
  std::string text;
  for (const auto& path : *written) text += visible(path.string()) + "\n";
  const auto printed = print(text);
  return printed ? status_fine : fail(printed.error());
}

Result<double> fitted_blur_mm(const CouponOptions& options) {
  const auto records = read_records(options.record);
  if (!records) return tl::unexpected(records.error());
  JobSettings labels;
  labels.resin_label = options.resin;
  labels.printer_label = options.printer;
  const auto record = record_for(*records, labels);
  if (!record) return tl::unexpected(record.error());
  if (record->fit->blur_shape != BlurShape::gaussian) {
    return tl::unexpected(Error{ErrorKind::usage, record->file, std::nullopt, "its blur is lorentzian",
                                "a record with gaussian blur, which wedges can be drawn for",
                                "Leave out --record: the coupon is then drawn as for a resin that is not known yet."});
  }
  return record->fit->blur_mm;
}

}  // namespace

int run_demo(const DemoOptions& options, const Console& console) {
  const auto written = [&] {
    const ProgressBar bar(progress(), console, "demo");
    return write_demo(options.folder, {.night_long = !options.small_only}, &progress());
  }();
  return tell_written(written);
}

int run_coupon(const CouponOptions& options, const Console& console) {
  CouponSettings settings;
  settings.pitch = {options.pitch_mm, options.pitch_y_mm.value_or(options.pitch_mm)};
  settings.layer_height_mm = options.height_mm;
  settings.exposures_s = options.exposures_s;
  settings.label = options.label;
  settings.base_s = options.base_s.value_or(settings.base_s);
  settings.base_layers = options.base_layers.value_or(settings.base_layers);
  settings.resin_label = options.resin;
  settings.printer_label = options.printer;
  if (options.width_px && options.height_px) settings.image = Size{*options.width_px, *options.height_px};
  if (!options.record.record.empty()) {
    const auto blur_mm = fitted_blur_mm(options);
    if (!blur_mm) return fail(blur_mm.error());
    settings.blurs = BlurRange{*blur_mm, *blur_mm};
  }
  const auto written = [&] {
    const ProgressBar bar(progress(), console, "coupon");
    return write_coupon(options.folder, settings, &progress());
  }();
  return tell_written(written);
}

}  // namespace hairline::cli
