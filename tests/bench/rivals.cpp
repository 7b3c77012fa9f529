#include "rivals.hpp"

#include <fmt/format.h>
#include <png.h>

#include <cmath>
#include <cstring>
#include <memory>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "timing.hpp"
#define STB_IMAGE_STATIC
#define STB_IMAGE_IMPLEMENTATION
#define STBI_ONLY_PNG
#include <stb/stb_image.h>

namespace hairline::bench {
namespace {

const unsigned char* bytes_of(const std::vector<std::byte>& file) {
  return reinterpret_cast<const unsigned char*>(file.data());
}

struct Pixels {
  std::unique_ptr<std::uint8_t[]> values;  // not set to zero first: a decoder fills them
  std::size_t count = 0;
};

Pixels libpng_pixels(const std::vector<std::byte>& file) {
  png_image image{};
  image.version = PNG_IMAGE_VERSION;
  if (png_image_begin_read_from_memory(&image, file.data(), file.size()) == 0) return {};
  image.format = PNG_FORMAT_GRAY;
  const std::size_t count = PNG_IMAGE_SIZE(image);
  Pixels pixels{std::make_unique_for_overwrite<std::uint8_t[]>(count), count};
  if (png_image_finish_read(&image, nullptr, pixels.values.get(), 0, nullptr) == 0) return {};
  return pixels;
}

// One layer, and what it needs of the one above, done on every pixel.
class Dense {
 public:
  explicit Dense(const Plate& plate) : plate_(plate), model_(plate.model), kernel_(weights()), disc_(disc()) {
    cv::setNumThreads(1);
  }

  void add(const std::vector<std::byte>& file) {
    step("decode", [&] {
      grey = cv::imdecode(cv::Mat(1, static_cast<int>(file.size()), CV_8U, const_cast<std::byte*>(file.data())),
                          cv::IMREAD_GRAYSCALE);
    });
    step("threshold", [&] { cv::threshold(grey, solid_, int{solid_from} - 1, 255, cv::THRESH_BINARY); });
    step("pieces", [&] {
      cv::Mat stats, centres;
      pieces = cv::connectedComponentsWithStats(solid_, labels_, stats, centres, 8, CV_32S) - 1;
      area = grey.total() - static_cast<std::size_t>(stats.at<int>(0, cv::CC_STAT_AREA));
    });
    if (!above_.empty()) {
      step("overlap", [&] {
        cv::bitwise_and(solid_, above_, shared_);
        overlap = static_cast<std::size_t>(cv::countNonZero(shared_));
      });
    }
    step("distance", [&] { cv::distanceTransform(solid_, distance_, cv::DIST_L2, cv::DIST_MASK_PRECISE); });
    step("blur", [&] {
      grey.convertTo(share_, CV_32F, 1.0 / 255);
      cv::sepFilter2D(share_, light, CV_32F, kernel_, kernel_, {-1, -1}, 0, cv::BORDER_CONSTANT);
    });
    step("settled light", [&] {
      if (settled.empty()) settled = cv::Mat::zeros(light.size(), CV_32F);
      const double a = attenuation(model_, plate_.shapes.height_mm);
      cv::addWeighted(light, 1.0, settled, a, 0, settled);  // at an exposure of 1 s
    });
    step("dilate", [&] {
      lit_.create(light.size(), CV_32F);
      lit_.setTo(0);
      light.copyTo(lit_, solid_);
      cv::dilate(lit_, largest_, disc_);
    });
    cv::swap(solid_, above_);
    ++layers_;
  }

  nlohmann::json times() const { return {{"layer_ms", whole_ms_}, {"steps_ms", steps_ms_}}; }

  cv::Mat grey, light, settled;
  std::size_t area = 0, overlap = 0;
  int pieces = 0;

 private:
  template <class Work>
  void step(const char* name, Work work) {
    const double start = cpu_now_s();
    work();
    const double ms = 1e3 * (cpu_now_s() - start);
    if (layers_ == 0) return;
    steps_ms_[name] = steps_ms_.value(name, 0.0) + ms;
    whole_ms_ += ms;
  }

  // Pixel-integrated weights out to 5 standard deviations (docs/exposure.md).
  cv::Mat weights() const {
    const double s = model_.blur_mm / plate_.shapes.pitch.x_mm;
    const int radius = static_cast<int>(std::ceil(5 * s));
    cv::Mat kernel(2 * radius + 1, 1, CV_32F);
    const auto cdf = [](double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); };
    for (int k = -radius; k <= radius; ++k)
      kernel.at<float>(k + radius) = static_cast<float>(cdf((k + 0.5) / s) - cdf((k - 0.5) / s));
    return kernel;
  }

  cv::Mat disc() const {
    const double reach = 3 * model_.blur_mm / plate_.shapes.pitch.x_mm;
    const int radius = static_cast<int>(reach);
    cv::Mat disc(2 * radius + 1, 2 * radius + 1, CV_8U);
    for (int y = -radius; y <= radius; ++y)
      for (int x = -radius; x <= radius; ++x) disc.at<std::uint8_t>(y + radius, x + radius) = std::hypot(x, y) <= reach;
    return disc;
  }

  const Plate& plate_;
  CureModel model_;
  cv::Mat kernel_, disc_;
  cv::Mat solid_, above_, shared_, labels_, distance_, share_, lit_, largest_;
  std::uint32_t layers_ = 0;
  double whole_ms_ = 0;
  nlohmann::json steps_ms_ = nlohmann::json::object();
};

bool equal_pixels(const std::vector<std::uint8_t>& ours, const std::uint8_t* theirs, std::size_t count) {
  return ours.size() == count && theirs != nullptr && std::memcmp(ours.data(), theirs, count) == 0;
}

// Every pixel of every eighth row.
double largest_difference(const ExposurePass& ours, const cv::Mat& theirs) {
  double largest = 0;
  for (int y = 0; y < theirs.rows; y += 8) {
    const float* row = theirs.ptr<float>(y);
    for (int x = 0; x < theirs.cols; ++x) {
      const float our = ours.settled(static_cast<std::uint32_t>(y), static_cast<std::uint32_t>(x));
      largest = std::max(largest, static_cast<double>(std::abs(our - row[x])));
    }
  }
  return largest;
}

}  // namespace

std::vector<std::uint8_t> decode_by_stb(const std::vector<std::byte>& png) {
  int width = 0, height = 0, channels = 0;
  stbi_uc* pixels = stbi_load_from_memory(bytes_of(png), static_cast<int>(png.size()), &width, &height, &channels, 1);
  if (pixels == nullptr) return {};
  std::vector<std::uint8_t> out(pixels, pixels + std::size_t(width) * std::size_t(height));
  stbi_image_free(pixels);
  return out;
}

std::vector<std::uint8_t> decode_by_libpng(const std::vector<std::byte>& png) {
  const Pixels pixels = libpng_pixels(png);
  return {pixels.values.get(), pixels.values.get() + pixels.count};
}

nlohmann::json time_stb(const Files& files) {
  for (const auto& file : files) {
    int width = 0, height = 0, channels = 0;
    stbi_uc* pixels =
        stbi_load_from_memory(bytes_of(file), static_cast<int>(file.size()), &width, &height, &channels, 1);
    if (pixels == nullptr) return "stb_image cannot decode a layer";
    stbi_image_free(pixels);
  }
  return nlohmann::json::object();
}

nlohmann::json time_libpng(const Files& files) {
  for (const auto& file : files) {
    if (libpng_pixels(file).count == 0) return "libpng cannot decode a layer";
  }
  return nlohmann::json::object();
}

nlohmann::json time_opencv(const Files& files, const Plate& plate) {
  Dense dense(plate);
  for (auto file = files.rbegin(); file != files.rend(); ++file) dense.add(*file);
  nlohmann::json times = dense.times();
  const double layers = static_cast<double>(files.size() - 1);
  times["layer_ms"] = times["layer_ms"].get<double>() / layers;
  for (auto& ms : times["steps_ms"]) ms = ms.get<double>() / layers;
  return times;
}

std::optional<std::string> fault_by_rivals(const Files& files, const Plate& plate) {
  JobSettings job;  // the sampled layers as a job of their own
  job.size = plate.shapes.size;
  job.pitch = plate.shapes.pitch;
  job.layer_count = static_cast<std::uint32_t>(files.size());
  job.height_mm = plate.shapes.height_mm;
  job.normal_s = normal_s;
  const auto context =
      ExposureContext::create(plate.model, job.size, job.pitch, printed_layers(job, normal_s), {normal_s, 0, 0, false});
  if (!context) return to_paragraph(context.error());
  ExposurePass pass(*context);
  std::vector<CriticalLayer> finished;
  Dense dense(plate);
  Mask above;
  for (std::uint32_t n = job.layer_count; n > 0; --n) {
    const std::vector<std::byte>& file = files[n - 1];
    dense.add(file);
    const auto layer = decode_png(file, job.size, {"sample", n});
    if (!layer) return to_paragraph(layer.error());
    const std::vector<std::uint8_t> pixels = decode(*layer);
    const auto by_stb = decode_by_stb(file), by_libpng = decode_by_libpng(file);
    if (!equal_pixels(pixels, by_stb.data(), by_stb.size())) return "pixels differ from stb_image's";
    if (!equal_pixels(pixels, by_libpng.data(), by_libpng.size())) return "pixels differ from libpng's";
    if (!equal_pixels(pixels, dense.grey.data, dense.grey.total())) return "pixels differ from OpenCV's";
    const Mask mask = solid(*layer);
    if (area_px(mask) != dense.area) return fmt::format("solid area {} against {}", area_px(mask), dense.area);
    const Pieces pieces = find_pieces(mask);
    if (pieces.pieces.size() != static_cast<std::size_t>(dense.pieces))
      return fmt::format("{} pieces against {}", pieces.pieces.size(), dense.pieces);
    if (!above.rows.empty()) {
      std::uint64_t shared = 0;
      for (const Contact& contact : find_contacts(mask, pieces, above, find_pieces(above)))
        shared += contact.overlap_px;
      if (shared != dense.overlap) return fmt::format("overlap {} against {}", shared, dense.overlap);
    }
    pass.add(n, *layer, mask, finished);
    if (n == job.layer_count) {  // of the first layer nothing but its own light has settled yet
      if (const double d = largest_difference(pass, dense.light); !(d < 1e-4)) return fmt::format("light off by {}", d);
    }
    if (const double d = largest_difference(pass, dense.settled); !(d < 1e-3))
      return fmt::format("settled light off by {}", d);
    above = mask;
  }
  return {};
}

}  // namespace hairline::bench
