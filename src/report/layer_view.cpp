#include "hairline/layer_view.hpp"

#include "../risk/raster.hpp"
#include "html.hpp"

namespace hairline {
namespace {

using risk::Axis, risk::paint;

// Paints columns [begin, end) of a row, as far as they lie in the view.
struct Painter {
  Raster out;
  Axis x, y;
  void stroke(std::uint32_t row, std::uint32_t begin, std::uint32_t end, Becomes what) {
    const int from = std::max(static_cast<int>(begin), x.from), to = std::min(static_cast<int>(end), x.to);
    if (from < to) paint(out, y.pixel(static_cast<int>(row)), x.pixel(from), x.pixel(to - 1) + 1, what);
  }
};

// The first run of a row, or of one below it.
auto first_from(const std::vector<FlipRun>& runs, std::uint32_t row) {
  return std::partition_point(runs.begin(), runs.end(), [&](const FlipRun& run) { return run.row < row; });
}

Error no_view(std::string found, std::string expected) {
  return {ErrorKind::invalid, "", std::move(found), std::move(expected)};
}

// What flips at one time, as a mask.
Mask flipped(const std::vector<FlipRun>& runs, bool cured, std::uint32_t time, Size size) {
  Mask mask;
  mask.size = size;
  auto run = runs.begin();
  for (std::uint32_t row = 0; row < size.height_px; ++row) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; run != runs.end() && run->row == row; ++run) {
      if ((time >= run->cured_from) != cured) continue;
      if (mask.spans.size() > first && mask.spans.back().end == run->begin)
        mask.spans.back().end = run->end;
      else
        mask.spans.push_back({run->begin, run->end});
    }
    mask.rows.push_back({first, static_cast<std::uint32_t>(mask.spans.size())});
  }
  return mask;
}

// What is nearest in a part of a picture.
std::uint8_t nearest(const Raster& from, std::uint32_t x0, std::uint32_t x1, std::uint32_t y0, std::uint32_t y1) {
  std::uint8_t most = 0;
  for (std::uint32_t y = y0; y < y1; ++y)
    for (std::uint32_t x = x0; x < x1; ++x) most = std::max(most, from.values[std::size_t{y} * from.width_px + x]);
  return most;
}

}  // namespace

Result<Raster> layer_view(const Mask& solid, const LayerFlips& flips, std::uint32_t time, Pitch pitch,
                          const LayerView& view) {
  const BoxPx& box = view.box;
  if (box.x0 >= box.x1 || box.y0 >= box.y1 || box.x1 > solid.size.width_px || box.y1 > solid.size.height_px)
    return tl::unexpected(no_view("this part of the layer is empty, or reaches beyond it", "a part of the layer"));
  if (std::min(view.width_px, view.height_px) == 0 || std::max(view.width_px, view.height_px) > most_view_px)
    return tl::unexpected(no_view("a picture cannot have this size", "1 to 2000 pixels on each side"));
  const auto axis = [](std::uint32_t from, std::uint32_t to, std::uint32_t most) {
    return Axis{static_cast<int>(from), static_cast<int>(to), std::min(most, to - from)};
  };
  Painter painter{{}, axis(box.x0, box.x1, view.width_px), axis(box.y0, box.y1, view.height_px)};
  painter.out = risk::raster(painter.x.pixels, painter.y.pixels, (box.x1 - box.x0) * pitch.x_mm / painter.x.pixels,
                             (box.y1 - box.y0) * pitch.y_mm / painter.y.pixels);
  const Becomes drawn = time < flips.bonds_from ? Becomes::missing : Becomes::kept;
  for (std::uint32_t row = box.y0; row < box.y1; ++row)
    for (const Span& span : solid.row(row)) painter.stroke(row, span.begin, span.end, drawn);
  const auto flip = [&](const std::vector<FlipRun>& runs, bool solid_then, Becomes what) {
    for (auto run = first_from(runs, box.y0); run != runs.end() && run->row < box.y1; ++run)
      if ((time >= run->cured_from) == solid_then) painter.stroke(run->row, run->begin, run->end, what);
  };
  flip(flips.vanish, false, Becomes::missing);
  flip(flips.fuse, true, Becomes::filled);
  return std::move(painter.out);
}

LayerChanges layer_changes(const Mask& solid, const LayerFlips& flips, std::uint32_t time, Pitch pitch) {
  LayerChanges out;
  const auto count = [&](const Mask& mask, std::uint32_t& pieces, double& mm2) {
    pieces = static_cast<std::uint32_t>(find_pieces(mask).pieces.size());
    mm2 = static_cast<double>(area_px(mask)) * pitch.pixel_mm2();
  };
  const bool bonds = time >= flips.bonds_from;
  count(bonds ? flipped(flips.vanish, false, time, solid.size) : solid, out.missing, out.missing_mm2);
  count(flipped(flips.fuse, true, time, solid.size), out.filled, out.filled_mm2);
  return out;
}

std::string thumbnail_png(const Silhouettes& print, std::uint32_t most_px) {
  const Raster& front = print.front;
  const std::uint32_t shrink = (std::max(front.width_px, front.height_px) - 1) / most_px + 1;
  const auto part = [&](std::uint32_t at, std::uint32_t all) { return std::min(at * shrink, all); };
  Raster small = risk::raster((front.width_px + shrink - 1) / shrink, (front.height_px + shrink - 1) / shrink,
                              shrink * front.pitch_x_mm, shrink * front.pitch_y_mm);
  for (std::uint32_t y = 0; y < small.height_px; ++y)
    for (std::uint32_t x = 0; x < small.width_px; ++x)
      small.values[std::size_t{y} * small.width_px + x] =
          nearest(front, part(x, front.width_px), part(x + 1, front.width_px), part(y, front.height_px),
                  part(y + 1, front.height_px));
  return depth_image(small);
}

}  // namespace hairline
