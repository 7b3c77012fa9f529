#include <algorithm>

#include "coverage.hpp"
#include "hairline/draw.hpp"

namespace hairline {
namespace {

/// 255 v a of two values taken as shares, rounded.
std::uint8_t product(unsigned a, unsigned b) {
  return static_cast<std::uint8_t>((a * b + 127) / 255);
}

void push(std::vector<Run>& out, std::uint32_t begin, std::uint32_t end, std::uint8_t value) {
  if (begin >= end || value == 0) return;
  if (!out.empty() && out.back().end == begin && out.back().value == value) {
    out.back().end = end;
  } else {
    out.push_back({begin, end, value});
  }
}

/// Walks two rows of runs side by side and writes combine(old, new) for every stretch; both are 0 where no run is.
template <class Combine>
void merge(std::span<const Run> old, std::span<const Run> add, std::vector<Run>& out, Combine combine) {
  std::size_t i = 0, j = 0;
  std::uint32_t x = 0;
  constexpr std::uint32_t far = 0xffffffffu;
  while (i < old.size() || j < add.size()) {
    const bool in_old = i < old.size() && old[i].begin <= x, in_add = j < add.size() && add[j].begin <= x;
    const std::uint32_t next_old = i == old.size() ? far : in_old ? old[i].end : old[i].begin;
    const std::uint32_t next_add = j == add.size() ? far : in_add ? add[j].end : add[j].begin;
    const std::uint32_t end = std::min(next_old, next_add);
    push(out, x, end, combine(in_old ? old[i].value : 0u, in_add ? add[j].value : 0u));
    x = end;
    if (i < old.size() && old[i].end <= x) ++i;
    if (j < add.size() && add[j].end <= x) ++j;
  }
}

}  // namespace

Canvas::Canvas(Size size, Pitch pitch, Edges edges)
    : size_(size), pitch_(pitch), edges_(edges), rows_(size.height_px) {}

void Canvas::fill(const std::vector<OutlineMm>& outlines, Overlap overlap) {
  paint(outlines, overlap, Paint::add);
}

void Canvas::cut(const std::vector<OutlineMm>& outlines, Overlap overlap) {
  paint(outlines, overlap, Paint::remove);
}

void Canvas::paint(const std::vector<OutlineMm>& outlines, Overlap overlap, Paint kind) {
  const draw::Raster raster{size_, pitch_, edges_, overlap};
  draw::rasterise(outlines, raster, [&](std::uint32_t r, std::span<const Run> runs) {
    std::vector<Run>& row = rows_[r];
    if (row.empty()) {
      if (kind == Paint::add) row.assign(runs.begin(), runs.end());
      return;
    }
    // Only the stretch that the new runs reach is written anew, together with a neighbour that touches it.
    const auto from =
        std::partition_point(row.begin(), row.end(), [&](const Run& x) { return x.end < runs.front().begin; });
    const auto to = std::partition_point(from, row.end(), [&](const Run& x) { return x.begin <= runs.back().end; });
    scratch_.clear();
    const std::span<const Run> old(from, to);
    if (kind == Paint::add) {
      merge(old, runs, scratch_,
            [](unsigned v, unsigned a) { return static_cast<std::uint8_t>(255 - product(255 - v, 255 - a)); });
    } else {
      merge(old, runs, scratch_, [](unsigned v, unsigned a) { return product(v, 255 - a); });
    }
    const auto kept = std::min<std::ptrdiff_t>(to - from, static_cast<std::ptrdiff_t>(scratch_.size()));
    std::copy_n(scratch_.begin(), kept, from);
    if (kept < to - from) {
      row.erase(from + kept, to);
    } else {
      row.insert(to, scratch_.begin() + kept, scratch_.end());
    }
  });
}

void Canvas::fill_box(PointMm from, PointMm to) {
  fill({box_outline(from, to)});
}
void Canvas::cut_box(PointMm from, PointMm to) {
  cut({box_outline(from, to)});
}
void Canvas::fill_disc(PointMm centre, double diameter_mm) {
  fill({disc_outline(centre, diameter_mm)});
}
void Canvas::cut_disc(PointMm centre, double diameter_mm) {
  cut({disc_outline(centre, diameter_mm)});
}

Layer Canvas::take() {
  LayerBuilder builder(size_);
  for (std::vector<Run>& row : rows_) {
    builder.add_runs(row);
    row.clear();
  }
  return builder.take();
}

}  // namespace hairline
