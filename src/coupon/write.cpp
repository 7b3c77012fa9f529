#include <fmt/format.h>

#include "hairline/archive.hpp"
#include "hairline/coupon.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

/// Bars of one exposure, below the heads of their columns.
void add_exposure_bars(const Coupon& coupon, double exposure_s, std::vector<OutlineMm>& out) {
  const ExposureMark mark = exposure_mark(exposure_s);
  double x = coupon.marks.from.x;
  for (const std::uint32_t count : {mark.tens, mark.ones, mark.tenths, mark.hundredths}) {
    for (std::uint32_t i = 0; i < count; ++i) {
      const double y = coupon.marks.from.y + 2.2 + 1.25 * i;
      out.push_back(box_outline({x, y}, {x + 1.4, y + 0.6}));
    }
    x += 1.8;
  }
}

// What would be refused when it is read again is not drawn: the limits are those of any archive.
Result<void> check_readable(const Coupon& coupon, const CouponSettings& settings) {
  auto again = parse_manifest(write_manifest(coupon_job(coupon, settings, settings.exposures_s.front())), "");
  if (again) return {};
  Error error = std::move(again.error());
  error.kind = ErrorKind::usage;
  error.found = "the coupon could not be read again: " + error.found;
  error.advice = "Give a smaller image or shorter labels.";
  return tl::unexpected(std::move(error));
}

}  // namespace

Layer draw_coupon_layer(const Coupon& coupon, double exposure_s, std::uint32_t number) {
  std::vector<OutlineMm> adds, cuts;
  for (const CouponPrism& p : coupon.prisms) {
    if (number < p.from_layer || number > p.to_layer) continue;
    (p.cuts ? cuts : adds).push_back(p.drawn.empty() ? p.outline : p.drawn);
  }
  if (number >= coupon.marks.from_layer && number <= coupon.marks.to_layer) {
    add_exposure_bars(coupon, exposure_s, adds);
    adds.insert(adds.end(), coupon.label.begin(), coupon.label.end());
  }
  Canvas canvas(coupon.image, coupon.pitch, Edges::grey);
  canvas.fill(adds, Overlap::join);
  canvas.cut(cuts, Overlap::join);
  return canvas.take();
}

JobSettings coupon_job(const Coupon& coupon, const CouponSettings& settings, double exposure_s) {
  JobSettings job;
  job.title = fmt::format("coupon {:.2f} s", exposure_s);
  job.size = coupon.image;
  job.pitch = coupon.pitch;
  job.layer_count = coupon.layers;
  job.height_mm = coupon.layer_height_mm;
  job.normal_s = exposure_s;
  job.base_s = settings.base_s;
  job.base_layers = settings.base_layers;
  job.transition_layers = settings.transition_layers;
  job.motion = settings.motion;
  job.density_g_per_ml = settings.density_g_per_ml;
  job.resin_label = settings.resin_label;
  job.printer_label = settings.printer_label;
  return job;
}

std::string coupon_file_name(double exposure_s) {
  return fmt::format("coupon-{:.2f}s.zip", exposure_s);
}

Result<std::vector<std::filesystem::path>> write_coupon(const std::filesystem::path& dir,
                                                        const CouponSettings& settings, Progress* progress) {
  const Result<Coupon> coupon = lay_out_coupon(settings);
  if (!coupon) return tl::unexpected(coupon.error());
  if (Result<void> readable = check_readable(*coupon, settings); !readable) return tl::unexpected(readable.error());
  if (Result<void> made = make_folder(dir); !made) return tl::unexpected(made.error());
  Progress own;
  Progress& counted = progress ? *progress : own;
  counted.start(coupon->layers * static_cast<std::uint32_t>(settings.exposures_s.size()));

  std::vector<std::filesystem::path> written;
  for (const double exposure_s : settings.exposures_s) {
    const std::filesystem::path path = dir / coupon_file_name(exposure_s);
    const auto draw = [&](std::uint32_t number) { return draw_coupon_layer(*coupon, exposure_s, number); };
    const JobSettings job = coupon_job(*coupon, settings, exposure_s);
    if (Result<void> done = write_archive(path, job, PngFilter::up, draw, counted); !done)
      return tl::unexpected(done.error());
    written.push_back(path);
  }
  const std::pair<const char*, std::string> texts[] = {{"coupon.stl", coupon_stl(*coupon)},
                                                       {"coupon-sheet.html", coupon_sheet(*coupon, settings)}};
  for (const auto& [name, text] : texts) {
    if (Result<void> done = write_text(dir / name, text); !done) return tl::unexpected(done.error());
    written.push_back(dir / name);
  }
  return written;
}

}  // namespace hairline
