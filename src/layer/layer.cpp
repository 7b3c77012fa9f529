#include "hairline/layer.hpp"

#include <algorithm>

namespace hairline {

LayerBuilder::LayerBuilder(Size size) : size_(size) {
  layer_.rows.reserve(size.height_px);
}

void LayerBuilder::close_row(std::uint32_t first) {
  const RowRange range{first, static_cast<std::uint32_t>(layer_.runs.size())};
  if (!layer_.rows.empty()) {
    const RowRange above = layer_.rows.back();
    const auto* runs = layer_.runs.data();
    if (std::equal(runs + range.first, runs + range.last, runs + above.first, runs + above.last)) {
      layer_.runs.resize(first);
      layer_.rows.push_back(above);
      return;
    }
  }
  layer_.rows.push_back(range);
}

void LayerBuilder::add_row(std::span<const std::uint8_t> pixels) {
  const auto first = static_cast<std::uint32_t>(layer_.runs.size());
  const auto width = static_cast<std::uint32_t>(pixels.size());
  for (std::uint32_t begin = 0; begin < width;) {
    const std::uint8_t value = pixels[begin];
    std::uint32_t end = begin + 1;
    while (end < width && pixels[end] == value) ++end;
    if (value != 0) layer_.runs.push_back({begin, end, value});
    begin = end;
  }
  close_row(first);
}

void LayerBuilder::add_runs(std::span<const Run> runs) {
  const auto first = static_cast<std::uint32_t>(layer_.runs.size());
  for (const Run& run : runs) {
    if (run.value == 0 || run.begin >= run.end) continue;
    if (layer_.runs.size() > first && layer_.runs.back().end == run.begin && layer_.runs.back().value == run.value) {
      layer_.runs.back().end = run.end;
    } else {
      layer_.runs.push_back(run);
    }
  }
  close_row(first);
}

void LayerBuilder::repeat_row() {
  layer_.rows.push_back(layer_.rows.empty() ? RowRange{} : layer_.rows.back());
}

Layer LayerBuilder::take() {
  const auto end = static_cast<std::uint32_t>(layer_.runs.size());
  const RowRange background{end, end};
  layer_.size = size_;
  layer_.rows.resize(size_.height_px, background);
  Layer done = std::move(layer_);
  layer_ = {};
  layer_.rows.reserve(size_.height_px);
  return done;
}

Layer encode(std::span<const std::uint8_t> pixels, Size size) {
  LayerBuilder builder(size);
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    builder.add_row(pixels.subspan(std::size_t{r} * size.width_px, size.width_px));
  }
  return builder.take();
}

std::vector<std::uint8_t> decode(const Layer& layer) {
  std::vector<std::uint8_t> pixels(std::size_t{layer.size.width_px} * layer.size.height_px, 0);
  for (std::uint32_t r = 0; r < layer.size.height_px; ++r) {
    std::uint8_t* row = pixels.data() + std::size_t{r} * layer.size.width_px;
    for (const Run& run : layer.row(r)) std::fill(row + run.begin, row + run.end, run.value);
  }
  return pixels;
}

Layer inverted(const Layer& layer) {
  LayerBuilder out(layer.size);
  std::vector<Run> runs;
  for (std::uint32_t r = 0; r < layer.size.height_px; ++r) {
    if (r > 0 && layer.rows[r] == layer.rows[r - 1]) {
      out.repeat_row();
      continue;
    }
    runs.clear();
    std::uint32_t at = 0;
    const auto until = [&](std::uint32_t end) {
      if (at < end) runs.push_back({at, end, 255});
    };
    for (const Run& run : layer.row(r)) {
      until(run.begin);
      runs.push_back({run.begin, run.end, static_cast<std::uint8_t>(255 - run.value)});
      at = run.end;
    }
    until(layer.size.width_px);
    out.add_runs(runs);
  }
  return out.take();
}

Mask solid(const Layer& layer, std::uint8_t from) {
  Mask mask;
  mask.size = layer.size;
  mask.rows.resize(layer.rows.size());
  mask.spans.reserve(layer.runs.size() / 2);
  for (std::uint32_t r = 0; r < layer.rows.size(); ++r) {
    if (r > 0 && layer.rows[r] == layer.rows[r - 1]) {
      mask.rows[r] = mask.rows[r - 1];
      continue;
    }
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (const Run& run : layer.row(r)) {
      if (run.value < from) continue;
      if (mask.spans.size() > first && mask.spans.back().end == run.begin) {
        mask.spans.back().end = run.end;
      } else {
        mask.spans.push_back({run.begin, run.end});
      }
    }
    mask.rows[r] = {first, static_cast<std::uint32_t>(mask.spans.size())};
  }
  return mask;
}

// A row is shared with the row above when both inputs share theirs.
Mask minus(const Mask& a, const Mask& b) {
  Mask out;
  out.size = a.size;
  out.rows.resize(a.rows.size());
  out.spans.reserve(std::max(a.spans.size(), b.spans.size()));
  for (std::uint32_t r = 0; r < a.rows.size(); ++r) {
    if (r > 0 && a.rows[r] == a.rows[r - 1] && b.rows[r] == b.rows[r - 1]) {
      out.rows[r] = out.rows[r - 1];
      continue;
    }
    const auto first = static_cast<std::uint32_t>(out.spans.size());
    const auto away = b.row(r);
    auto next = away.begin();
    for (Span rest : a.row(r)) {
      while (next != away.end() && next->end <= rest.begin) ++next;
      for (auto at = next; at != away.end() && at->begin < rest.end; ++at) {
        if (at->begin > rest.begin) out.spans.push_back({rest.begin, at->begin});
        rest.begin = std::min(at->end, rest.end);
      }
      if (rest.begin < rest.end) out.spans.push_back(rest);
    }
    out.rows[r] = {first, static_cast<std::uint32_t>(out.spans.size())};
  }
  return out;
}

std::uint64_t area_px(const Mask& mask) {
  std::uint64_t area = 0, row_area = 0;
  for (std::uint32_t r = 0; r < mask.rows.size(); ++r) {
    if (r == 0 || mask.rows[r] != mask.rows[r - 1]) {
      row_area = 0;
      for (const Span& span : mask.row(r)) row_area += span.end - span.begin;
    }
    area += row_area;
  }
  return area;
}

BoxPx bounds(const Mask& mask) {
  BoxPx box;
  for (std::uint32_t r = 0; r < mask.rows.size(); ++r) {
    const auto row = mask.row(r);
    if (!row.empty()) box = join(box, {row.front().begin, r, row.back().end, r + 1});
  }
  return box;
}

}  // namespace hairline
