#include "pictures.hpp"

#include <algorithm>
#include <cmath>

#include "candidates.hpp"
#include "raster.hpp"

namespace hairline::risk {
namespace {

constexpr std::uint32_t most_slices = 24, most_side_px = 128;

Axis axis(int from, int to, double voxels_per_pixel) {
  return {from, to, static_cast<std::uint32_t>(std::ceil((to - from) / voxels_per_pixel - 1e-9))};
}

// Heights from `bottom_mm` up, in pixels counted from the bottom.
struct Heights {
  double bottom_mm = 0, top_mm = 0, pitch_mm = 0;
  std::uint32_t pixels = 0;
};

Heights heights_of(const std::vector<PrintedLayer>& layers, std::uint32_t from_layer, std::uint32_t to_layer) {
  Heights out{layers[from_layer - 1].bottom_mm, layers[to_layer - 1].top_mm(), INFINITY, 0};
  for (std::uint32_t n = from_layer; n <= to_layer; ++n) out.pitch_mm = std::min(out.pitch_mm, layers[n - 1].height_mm);
  const double all_mm = out.top_mm - out.bottom_mm;
  out.pixels = static_cast<std::uint32_t>(std::ceil(all_mm / std::max(out.pitch_mm, all_mm / most_side_px) - 1e-6));
  out.pitch_mm = all_mm / out.pixels;
  return out;
}

// As drawn, by what was found there.
Raster drawn_of(Raster printed) {
  for (std::uint8_t& value : printed.values)
    value = static_cast<std::uint8_t>(static_cast<Becomes>(value) == Becomes::filled || value == 0 ? Becomes::empty
                                                                                                   : Becomes::kept);
  return printed;
}

// One detail's pictures while they are drawn.
struct Drawing {
  BoxVoxels box;    // of the pictures
  bool solid_kept;  // the store has all its solid, unless it has none of a layer
  Axis x, y;
  Heights z;
  int cut = 0;  // row or column of the upright cut
  DetailPictures out;
};

struct SolidLayer {
  const StoredLayer& stored;
  const PrintedLayer& printed;
  const Mask& solid;
  const RiskContext& context;
};

// Calls see(row, begin, end, what) for all that is in a layer's box at one time.
template <class See>
void each_stroke(const SolidLayer& layer, std::uint32_t time, const BoxVoxels& box, See see) {
  const auto within = [&](std::uint32_t row, std::uint32_t begin, std::uint32_t end, Becomes what) {
    const int from = std::max(static_cast<int>(begin), box.x0), to = std::min(static_cast<int>(end), box.x1);
    if (from < to) see(static_cast<int>(row), from, to, what);
  };
  const auto& [stored, printed, solid, context] = layer;
  const bool bonds = printed.time_s(context.times_s[time]) >= bond_time_s(context.model, printed.height_mm);
  for (int row = box.y0; row < box.y1; ++row) {
    const auto spans = solid.row(static_cast<std::uint32_t>(row));
    auto span = std::partition_point(spans.begin(), spans.end(),
                                     [&](const Span& one) { return static_cast<int>(one.end) <= box.x0; });
    for (; span != spans.end() && static_cast<int>(span->begin) < box.x1; ++span)
      within(static_cast<std::uint32_t>(row), span->begin, span->end, bonds ? Becomes::kept : Becomes::missing);
  }
  for (const Fate fate : {Fate::vanish, Fate::fuse})
    stored.runs(fate).each(box.x0, box.y0, box.x1, box.y1, [&](const RiskRun& run) {
      if (lot_at(fate, run.lots, time) == Lot::will)
        within(run.row, run.begin, run.end, fate == Fate::vanish ? Becomes::missing : Becomes::filled);
    });
}

// The row (column) of the detail's box in which most of its voxels flip; of equal ones that nearest to the middle.
int cut_through(const EndedPart& one, const BoxVoxels& window, bool along_x, std::uint32_t time,
                const RunStore& store) {
  const int from = along_x ? window.y0 : window.x0, to = along_x ? window.y1 : window.x1;
  std::vector<std::uint64_t> voxels(static_cast<std::size_t>(to - from), 0);
  RunsNear(store, one.fate, window).each(time, window, [&](const StoredLayer&, const RiskRun& run, Lot lot) {
    if (lot != one.part.lot) return;
    const int begin = std::max(static_cast<int>(run.begin), window.x0),
              end = std::min(static_cast<int>(run.end), window.x1);
    if (along_x) voxels[static_cast<int>(run.row) - from] += static_cast<std::uint64_t>(end - begin);
    for (int x = begin; !along_x && x < end; ++x) ++voxels[x - from];
  });
  int best = (to - from) / 2;
  for (int step = 0; step < to - from; ++step) {  // from the middle outwards, to both sides
    const int at = (to - from) / 2 + (step % 2 == 0 ? step / 2 : -(step + 1) / 2);
    if (at < to - from && at >= 0 && voxels[at] > voxels[best]) best = at;
  }
  return from + best;
}

BoxVoxels picture_box(const Part& part, const RiskContext& context) {
  BoxVoxels box = lots_wanted(part, context);
  box.x0 = std::max(box.x0, 0), box.x1 = std::min(box.x1, static_cast<int>(context.size.width_px));
  box.y0 = std::max(box.y0, 0), box.y1 = std::min(box.y1, static_cast<int>(context.size.height_px));
  box.to_layer = std::min(box.to_layer, static_cast<std::uint32_t>(context.layers.size()));
  return box;
}

// The layers to draw, rising.
std::vector<std::uint32_t> sliced_layers(const BoxVoxels& window) {
  const std::uint32_t all = window.to_layer - window.from_layer + 1, count = std::min(all, most_slices);
  std::vector<std::uint32_t> layers;
  for (std::uint32_t i = 0; i < count; ++i)
    layers.push_back(window.from_layer + (count == 1 ? 0 : i * (all - 1) / (count - 1)));
  return layers;
}

Drawing begin_drawing(const EndedPart& of, const PictureTimes& times, const RunStore& store,
                      const RiskContext& context) {
  const Part& part = of.part;
  const BoxVoxels window = window_of(part), box = picture_box(part, context);
  const double shrink = std::max(1.0, std::max(box.x1 - box.x0, box.y1 - box.y0) / double{most_side_px});
  const Pitch pitch = context.pitch;
  Drawing at{box,
             is_solid_kept(of.fate, part, context),
             axis(box.x0, box.x1, shrink),
             axis(box.y0, box.y1, shrink),
             heights_of(context.layers, box.from_layer, box.to_layer),
             0,
             {}};
  DetailPictures& out = at.out;
  out.x_mm = box.x0 * pitch.x_mm, out.y_mm = box.y0 * pitch.y_mm;
  out.along_x = (window.x1 - window.x0) * pitch.x_mm >= (window.y1 - window.y0) * pitch.y_mm;
  at.cut = cut_through(of, window, out.along_x, times.judged, store);
  out.cut_mm = (at.cut + 0.5) * (out.along_x ? pitch.y_mm : pitch.x_mm);
  out.bottom_mm = at.z.bottom_mm, out.top_mm = at.z.top_mm;
  const double x_mm = (box.x1 - box.x0) * pitch.x_mm / at.x.pixels, y_mm = (box.y1 - box.y0) * pitch.y_mm / at.y.pixels;
  const Raster flat = raster(at.x.pixels, at.y.pixels, x_mm, y_mm),
               upright = out.along_x ? raster(at.x.pixels, at.z.pixels, x_mm, at.z.pitch_mm)
                                     : raster(at.y.pixels, at.z.pixels, y_mm, at.z.pitch_mm);
  const bool two = times.suggested.has_value();
  for (const std::uint32_t layer : sliced_layers(window))
    out.slices.push_back({layer, {}, flat, two ? flat : Raster{}});
  out.upright = {0, {}, upright, two ? upright : Raster{}};
  return at;
}

void draw_slice(const Drawing& at, const SolidLayer& layer, std::uint32_t time, Raster& out) {
  each_stroke(layer, time, at.box, [&](int row, int begin, int end, Becomes what) {
    paint(out, at.y.pixel(row), at.x.pixel(begin), at.x.pixel(end - 1) + 1, what);
  });
}

void draw_upright(const Drawing& at, const SolidLayer& layer, std::uint32_t time, Raster& out) {
  const double bottom_mm = layer.printed.bottom_mm - at.z.bottom_mm;
  const auto edge = [&](double mm) { return static_cast<std::uint32_t>(mm / at.z.pitch_mm + 0.5); };
  const std::uint32_t low = std::min(edge(bottom_mm), at.z.pixels - 1),
                      high = std::clamp(edge(bottom_mm + layer.printed.height_mm), low + 1, at.z.pixels);
  const bool along_x = at.out.along_x;
  BoxVoxels line = at.box;
  (along_x ? line.y0 : line.x0) = at.cut;
  (along_x ? line.y1 : line.x1) = at.cut + 1;
  each_stroke(layer, time, line, [&](int row, int begin, int end, Becomes what) {
    const std::uint32_t from = along_x ? at.x.pixel(begin) : at.y.pixel(row),
                        to = (along_x ? at.x.pixel(end - 1) : from) + 1;
    for (std::uint32_t z = low; z < high; ++z) paint(out, at.z.pixels - 1 - z, from, to, what);
  });
}

void draw_layer(Drawing& at, const SolidLayer& layer, const PictureTimes& times) {
  const auto both = [&](DetailSlice& slice, auto draw) {
    draw(at, layer, times.judged, slice.printed);
    if (times.suggested) draw(at, layer, *times.suggested, slice.suggested);
  };
  for (DetailSlice& slice : at.out.slices)
    if (slice.layer == layer.stored.number) both(slice, draw_slice);
  both(at.out.upright, draw_upright);
}

}  // namespace

Result<std::vector<DetailPictures>> draw_details(const std::vector<const EndedPart*>& parts, const PictureTimes& times,
                                                 const RunStore& store, const RiskContext& context,
                                                 const SolidOf& solid_of) {
  std::vector<Drawing> drawings;
  for (const EndedPart* part : parts) drawings.push_back(begin_drawing(*part, times, store, context));
  for (auto n = static_cast<std::uint32_t>(context.layers.size()); n >= 1; --n) {
    std::optional<Mask> read;
    const StoredLayer& stored = *store.find(n);
    std::shared_ptr<const Mask> kept;
    for (Drawing& at : drawings) {
      if (n < at.box.from_layer || n > at.box.to_layer) continue;
      if (at.solid_kept && !kept) kept = store.solid(stored);
      const bool enough = at.solid_kept && kept;
      if (!enough && !read) {
        auto solid = solid_of(n);
        if (!solid) return tl::unexpected(std::move(solid.error()));
        read = std::move(*solid);
      }
      draw_layer(at, {stored, context.layers[n - 1], enough ? *kept : *read, context}, times);
    }
  }
  std::vector<DetailPictures> out;
  for (Drawing& at : drawings) {
    for (DetailSlice& slice : at.out.slices) slice.drawn = drawn_of(slice.printed);
    at.out.upright.drawn = drawn_of(at.out.upright.printed);
    out.push_back(std::move(at.out));
  }
  return out;
}

}  // namespace hairline::risk
