#include "stacks.hpp"

#include <cmath>
#include <memory>

namespace hairline::stacks {
namespace {

struct Shape {
  bool add = true;
  Inside inside;
};

Inside box(double x0, double y0, double z0, double x1, double y1, double z1) {
  return [=](double x, double y, double z) { return x >= x0 && x < x1 && y >= y0 && y < y1 && z >= z0 && z < z1; };
}

// A plate of `width` at an angle through (cx, cy), as long as the image.
Inside slab(double cx, double cy, double angle, double width, double z0, double z1) {
  const double nx = std::cos(angle), ny = std::sin(angle);
  return [=](double x, double y, double z) {
    return std::abs((x - cx) * nx + (y - cy) * ny) < width / 2 && z >= z0 && z < z1;
  };
}

Inside pin(double cx, double cy, double diameter, double z0, double z1) {
  return [=](double x, double y, double z) { return std::hypot(x - cx, y - cy) < diameter / 2 && z >= z0 && z < z1; };
}

Inside ball(double cx, double cy, double cz, double diameter) {
  return [=](double x, double y, double z) { return std::hypot(x - cx, y - cy, z - cz) < diameter / 2; };
}

// A round hole or rod that runs along x.
Inside rod(double cy, double cz, double diameter) {
  return [=](double, double y, double z) { return std::hypot(y - cy, z - cz) < diameter / 2; };
}

Shape random_shape(Dice& dice, double wide, double deep, double tall, double pitch) {
  const double x = dice.between(0, wide), y = dice.between(0, deep), z = dice.between(0, tall);
  switch (dice.whole(0, 6)) {
    case 0:
      return {true, box(x, y, z * 0.5, x + dice.between(2, 20) * pitch, y + dice.between(2, 20) * pitch,
                        z + dice.between(1, 12) * pitch)};
    case 1:
      return {true, slab(x, y, dice.between(0, 3.14), dice.between(0.8, 4) * pitch, z * 0.5, z + 8 * pitch)};
    case 2:
      return {false, slab(x, y, dice.between(0, 3.14), dice.between(0.8, 4) * pitch, z * 0.5, tall)};
    case 3:
      return {dice.chance(0.5), pin(x, y, dice.between(1, 6) * pitch, z * 0.3, tall)};
    case 4:
      return {dice.chance(0.7), ball(x, y, z, dice.between(4, 16) * pitch)};
    case 5:
      return {false, box(0, 0, z, wide, deep, z + dice.between(1, 5) * pitch)};
    default:
      return {dice.chance(0.2), rod(y, z, dice.between(2, 8) * pitch)};
  }
}

CureModel random_model(Dice& dice, double pitch, const CaseKind& kind) {
  CureModel model;
  model.bond_time_s = dice.between(1.0, 1.9);
  model.fuse_time_s = dice.between(0.2, 0.7);
  model.blur_mm = dice.between(kind.least_blur_px, kind.most_blur_px) * pitch;
  model.penetration_depth_mm = dice.between(0.08, 0.25);
  model.layer_height_mm = 0.05;
  model.valid_from_s = 1.5;
  model.valid_to_s = 4;
  if (kind.lorentzian) model.blur_shape = BlurShape::lorentzian;
  return model;
}

void add_speckle(Dice& dice, std::vector<Layer>& layers) {
  for (Layer& layer : layers) {
    std::vector<std::uint8_t> pixels = decode(layer);
    for (int i = 0; i < 12; ++i)
      pixels[static_cast<std::size_t>(dice.whole(0, static_cast<int>(pixels.size()) - 1))] =
          static_cast<std::uint8_t>(dice.whole(0, 255));
    layer = encode(pixels, layer.size);
  }
}

// What lies left of a column gets one grey, the rest another, or stays as it is.
void add_grey(Dice& dice, int side_px, std::vector<Layer>& layers) {
  const auto split = static_cast<std::uint32_t>(dice.whole(side_px / 4, side_px * 3 / 4));
  const int left = dice.whole(150, 240), right = dice.chance(0.5) ? 255 : dice.whole(150, 240);
  for (Layer& layer : layers) {
    std::vector<std::uint8_t> pixels = decode(layer);
    for (std::size_t i = 0; i < pixels.size(); ++i)
      pixels[i] = static_cast<std::uint8_t>(pixels[i] * (i % layer.size.width_px < split ? left : right) / 255);
    layer = encode(pixels, layer.size);
  }
}

template <class PixelAt>
void redraw(Case& out, Size size, PixelAt pixel_at) {
  out.settings.size = size;
  for (Layer& layer : out.layers) {
    const std::vector<std::uint8_t> old = decode(layer);
    const std::uint32_t old_width = layer.size.width_px;
    std::vector<std::uint8_t> pixels;
    pixels.reserve(static_cast<std::size_t>(size.width_px) * size.height_px);
    for (std::uint32_t r = 0; r < size.height_px; ++r)
      for (std::uint32_t c = 0; c < size.width_px; ++c) pixels.push_back(pixel_at(old, old_width, r, c));
    layer = encode(pixels, size);
  }
}

}  // namespace

std::vector<Layer> draw(const JobSettings& settings, const Inside& inside, int samples) {
  std::vector<Layer> layers;
  const std::vector<PrintedLayer> plans = printed_layers(settings, settings.normal_s);
  const Size size = settings.size;
  for (const PrintedLayer& printed : plans) {
    const double z = printed.bottom_mm + printed.height_mm / 2;
    std::vector<std::uint8_t> pixels;
    for (std::uint32_t r = 0; r < size.height_px; ++r)
      for (std::uint32_t c = 0; c < size.width_px; ++c) {
        int hits = 0;
        for (int i = 0; i < samples; ++i)
          for (int j = 0; j < samples; ++j)
            hits += inside((c + (j + 0.5) / samples) * settings.pitch.x_mm,
                           (r + (i + 0.5) / samples) * settings.pitch.y_mm, z);
        pixels.push_back(static_cast<std::uint8_t>(std::lround(255.0 * hits / (samples * samples))));
      }
    layers.push_back(encode(pixels, size));
  }
  return layers;
}

JobSettings plain_settings(Size size, std::uint32_t layer_count, Pitch pitch, double height_mm) {
  JobSettings settings;
  settings.title = "drawn for a test";
  settings.size = size;
  settings.pitch = pitch;
  settings.layer_count = layer_count;
  settings.height_mm = height_mm;
  settings.normal_s = 2.5;
  return settings;
}

CureModel plain_model(double blur_mm) {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.blur_mm = blur_mm;
  model.penetration_depth_mm = 0.16;
  model.layer_height_mm = 0.05;
  model.valid_from_s = 1.8;
  model.valid_to_s = 3.2;
  return model;
}

Case random_case(std::uint64_t seed, const CaseKind& kind) {
  Dice dice(seed);
  Case out;
  const Pitch pitch = kind.unequal_pitch ? Pitch{0.05, 0.06} : Pitch{0.05, 0.05};
  const Size size{static_cast<std::uint32_t>(kind.side_px),
                  static_cast<std::uint32_t>(kind.side_px - dice.whole(0, 8))};
  out.settings = plain_settings(size, static_cast<std::uint32_t>(kind.layer_count), pitch);
  if (kind.base) {
    out.settings.base_s = 12;
    out.settings.base_layers = 3;
    out.settings.transition_layers = 2;
  }
  if (kind.exceptions) {
    const auto from = static_cast<std::uint32_t>(dice.whole(2, kind.layer_count / 2));
    out.settings.exceptions = {{from, from + 3, 0.03, 2.0}, {from + 5, from + 6, std::nullopt, 3.5}};
  }
  out.model = random_model(dice, pitch.x_mm, kind);
  const double wide = size.width_px * pitch.x_mm, deep = size.height_px * pitch.y_mm, tall = kind.layer_count * 0.05;
  std::vector<Shape> shapes;
  for (int i = 0; i < 3; ++i) {
    const double x = dice.between(0, wide * 0.7), y = dice.between(0, deep * 0.7);
    shapes.push_back({true, box(x, y, 0, x + wide * dice.between(0.2, 0.5), y + deep * dice.between(0.2, 0.5),
                                tall * dice.between(0.4, 1))});
  }
  for (int i = 0; i < 14; ++i) shapes.push_back(random_shape(dice, wide, deep, tall, pitch.x_mm));
  out.layers = draw(out.settings, [&](double x, double y, double z) {
    bool solid = false;
    for (const Shape& shape : shapes)
      if (shape.inside(x, y, z)) solid = shape.add;
    return solid;
  });
  if (kind.speckle) add_speckle(dice, out.layers);
  if (kind.grey) add_grey(dice, kind.side_px, out.layers);
  return out;
}

twin::Input input_of(const Case& drawn, double exposure_s) {
  twin::Input input;
  input.layers = drawn.layers;
  input.plans = printed_layers(drawn.settings, exposure_s);
  input.pitch = drawn.settings.pitch;
  input.model = drawn.model;
  input.exposure_s = exposure_s;
  return input;
}

Case mirrored(const Case& drawn) {
  Case out = drawn;
  redraw(out, drawn.settings.size, [](const auto& old, std::uint32_t width, std::uint32_t r, std::uint32_t c) {
    return old[r * width + (width - 1 - c)];
  });
  return out;
}

Case quarter_turned(const Case& drawn) {
  Case out = drawn;
  const Size size{drawn.settings.size.height_px, drawn.settings.size.width_px};
  out.settings.pitch = {drawn.settings.pitch.y_mm, drawn.settings.pitch.x_mm};
  redraw(out, size, [](const auto& old, std::uint32_t width, std::uint32_t r, std::uint32_t c) {
    return old[c * width + r];  // the transpose; with `mirrored` checked apart, as good as a turn
  });
  return out;
}

Case laid_into(const Case& drawn, Size size, std::uint32_t left, std::uint32_t above) {
  Case out = drawn;
  const Size from = drawn.settings.size;
  redraw(out, size, [&](const auto& old, std::uint32_t width, std::uint32_t r, std::uint32_t c) -> std::uint8_t {
    if (r < above || c < left || r - above >= from.height_px || c - left >= from.width_px) return 0;
    return old[(r - above) * width + (c - left)];
  });
  return out;
}

Case doubled(const Case& drawn) {
  Case out = drawn;
  out.settings.height_mm /= 2;
  out.settings.layer_count *= 2;
  out.settings.base_layers *= 2;
  out.settings.transition_layers *= 2;
  for (Exception& exception : out.settings.exceptions) {
    exception.from_layer = 2 * exception.from_layer - 1;
    exception.to_layer *= 2;
    if (exception.height_mm) *exception.height_mm /= 2;
  }
  out.layers.clear();
  for (const Layer& layer : drawn.layers) out.layers.insert(out.layers.end(), 2, layer);
  return out;
}

}  // namespace hairline::stacks
