#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "../base/numbers.hpp"
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

std::vector<double> bracket_around(double guess_s) {
  const double step_s = guess_s < 1 ? 0.01 : 0.05;
  std::vector<double> times;
  for (const double factor : {0.85, 0.92, 1.0, 1.2, 1.5})
    times.push_back(twelve_digits(std::round(guess_s * factor / step_s) * step_s));
  return times;
}

std::vector<double> coupons_in(const std::filesystem::path& dir) {
  std::vector<double> times;
  std::error_code error;
  for (std::filesystem::directory_iterator entry(dir, error), end; !error && entry != end; entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    const auto time =
        name.starts_with("coupon-") ? typed_number(name.substr(7, name.find("s.zip") - 7), {}).value : std::nullopt;
    if (time && name == coupon_file_name(*time)) times.push_back(*time);
  }
  std::sort(times.begin(), times.end());
  return times;
}

std::array<std::string, 5> coupon_steps(const CouponSettings& settings, const std::vector<CouponPrint>& prints) {
  const auto by_duration = [](const CouponPrint& a, const CouponPrint& b) { return a.duration_s < b.duration_s; };
  const auto [shortest, longest] = std::minmax_element(prints.begin(), prints.end(), by_duration);
  std::string minutes = fmt::format("{:.1f}", shortest->duration_s / 60);
  if (const std::string most = fmt::format("{:.1f}", longest->duration_s / 60); most != minutes)
    minutes += " to " + most;
  return {fmt::format("Slice coupon.stl at {:.4g} mm, {} base layers of {:.4g} s, one print per time;",
                      settings.layer_height_mm, settings.base_layers, settings.base_s),
          "it has no exposure bars: scratch the time into each pad before washing;",
          fmt::format("send each archive if the printer takes it; {} min, {:.1f} g each.", minutes, longest->resin_g),
          "Wash, cure, read by coupon-sheet.html, type: hairline record read " +
              (settings.record_file.empty() ? "FILE" : shell_word(settings.record_file)),
          settings.record_file.empty()
              ? fmt::format("(for a new resin first: hairline record new FILE --pitch {:.4g})", settings.pitch.x_mm)
              : ""};
}

namespace {

// Masks by what is drawn on them: most layers are like the one below, and like that of any other exposure.
class Masks {
 public:
  struct Mask {
    std::vector<std::byte> png;
    std::uint64_t solid_px = 0;
  };
  explicit Masks(const Coupon& coupon) : coupon_(coupon) {}

  const Mask& of(double exposure_s, std::uint32_t number) {
    const bool marked = number >= coupon_.marks.from_layer && number <= coupon_.marks.to_layer;
    std::pair<std::vector<std::size_t>, double> drawn{{}, marked ? exposure_s : 0};
    for (std::size_t i = 0; i < coupon_.prisms.size(); ++i)
      if (number >= coupon_.prisms[i].from_layer && number <= coupon_.prisms[i].to_layer) drawn.first.push_back(i);
    const auto [at, missing] = masks_.try_emplace(std::move(drawn));
    if (missing) {
      const Layer layer = draw_coupon_layer(coupon_, exposure_s, number);
      at->second = {encode_png(layer, PngFilter::up), area_px(solid(layer))};
    }
    return at->second;
  }

 private:
  const Coupon& coupon_;
  std::map<std::pair<std::vector<std::size_t>, double>, Mask> masks_;
};

// Writes the archive of one exposure, and adds up what is solid on its way.
Result<CouponPrint> write_print(const std::filesystem::path& path, const Coupon& coupon, const CouponSettings& settings,
                                double exposure_s, Masks& masks, Progress& progress) {
  std::uint64_t solid_px = 0;
  const auto add = [&](ArchiveWriter& writer, std::uint32_t number) {
    const Masks::Mask& mask = masks.of(exposure_s, number);
    solid_px += mask.solid_px;
    return writer.add_png(mask.png);
  };
  const JobSettings job = coupon_job(coupon, settings, exposure_s);
  if (Result<void> done = write_archive(path, job, PngFilter::up, add, progress); !done)
    return tl::unexpected(done.error());
  const double volume_mm3 = static_cast<double>(solid_px) * coupon.pitch.pixel_mm2() * coupon.layer_height_mm;
  return CouponPrint{exposure_s, duration_s(job, printed_layers(job, exposure_s)),
                     volume_mm3 / 1000 * settings.density_g_per_ml};
}

}  // namespace

Result<WrittenCoupon> write_coupon(const std::filesystem::path& dir, const CouponSettings& settings,
                                   Progress* progress) {
  const Result<Coupon> coupon = lay_out_coupon(settings);
  if (!coupon) return tl::unexpected(coupon.error());
  if (Result<void> readable = check_readable(*coupon, settings); !readable) return tl::unexpected(readable.error());
  if (Result<void> made = make_folder(dir); !made) return tl::unexpected(made.error());
  Progress own;
  Progress& counted = progress ? *progress : own;
  counted.start(coupon->layers * static_cast<std::uint32_t>(settings.exposures_s.size()));

  WrittenCoupon written;
  Masks masks(*coupon);
  for (const double exposure_s : settings.exposures_s) {
    const std::filesystem::path path = dir / coupon_file_name(exposure_s);
    const auto print = write_print(path, *coupon, settings, exposure_s, masks, counted);
    if (!print) return tl::unexpected(print.error());
    written.prints.push_back(*print);
    written.files.push_back(path);
  }
  const std::pair<const char*, std::string> texts[] = {
      {"coupon.stl", coupon_stl(*coupon)}, {"coupon-sheet.html", coupon_sheet(*coupon, settings, written.prints)}};
  for (const auto& [name, text] : texts) {
    if (Result<void> done = write_text(dir / name, text); !done) return tl::unexpected(done.error());
    written.files.push_back(dir / name);
  }
  return written;
}

}  // namespace hairline
