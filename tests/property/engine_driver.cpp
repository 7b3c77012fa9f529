#include "engine_driver.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <limits>

namespace hairline::engine {
namespace {

void lay_out(const std::vector<CriticalRun>& runs, std::uint32_t layer, twin::Volume<double>& critical_s,
             twin::Volume<double>* height_mm, Slopes* slopes) {
  const CriticalRun* before = nullptr;
  bool sound = true;
  for (const CriticalRun& run : runs) {
    sound =
        sound && run.begin < run.end && run.end <= critical_s.cols && run.row < critical_s.rows && run.critical_s > 0;
    sound = sound && (!before || before->row < run.row || (before->row == run.row && before->end <= run.begin));
    if (!sound) break;
    before = &run;
    for (std::uint32_t c = run.begin; c < run.end; ++c) {
      critical_s.at(layer, run.row, c) = run.critical_s;
      if (height_mm) height_mm->at(layer, run.row, c) = run.height_mm;
      if (slopes) {
        slopes->blur.at(layer, run.row, c) = run.blur_slope;
        slopes->depth.at(layer, run.row, c) = run.depth_slope;
      }
    }
  }
  REQUIRE(sound);
}

void lay_out_spans(const std::vector<RowSpan>& spans, std::uint32_t layer, twin::Volume<std::uint8_t>& out) {
  const RowSpan* before = nullptr;
  bool sound = true;
  for (const RowSpan& span : spans) {
    sound = sound && span.begin < span.end && span.end <= out.cols && span.row < out.rows;
    sound = sound && (!before || before->row < span.row || (before->row == span.row && before->end <= span.begin));
    if (!sound) break;
    before = &span;
    std::fill(&out.at(layer, span.row, span.begin), &out.at(layer, span.row, span.begin) + (span.end - span.begin), 1);
  }
  REQUIRE(sound);
}

// Light of one layer: what settles in a job of that layer alone at an exposure of 1 s.
void light_of(const twin::Input& input, std::uint32_t n, const Mask& mask, twin::Volume<double>& light) {
  const Layer& layer = input.layers[n];
  PrintedLayer alone = input.plans[n];
  alone.kind = LayerKind::normal;
  alone.factor = 1;
  ExposureSettings settings;
  settings.normal_s = settings.vanish_from_s = settings.fuse_to_s = 1;
  const Result<ExposureContext> context =
      ExposureContext::create(input.model, layer.size, input.pitch, {alone}, settings);
  REQUIRE(context.has_value());
  ExposurePass pass(*context);
  std::vector<CriticalLayer> finished;
  pass.add(1, layer, mask, finished);
  for (std::uint32_t r = 0; r < layer.size.height_px; ++r)
    for (std::uint32_t c = 0; c < layer.size.width_px; ++c) light.at(n, r, c) = pass.settled(r, c);
}

}  // namespace

twin::Exposed run(const twin::Input& input, const Range& range, Slopes* slopes) {
  const auto count = static_cast<std::uint32_t>(input.layers.size());
  const Size size = input.layers.at(0).size;
  twin::Exposed out;
  out.solid = out.thin = out.bulk = out.propped = twin::Volume<std::uint8_t>(count, size, 0);
  out.light = out.settled_fixed = out.settled_per_s = out.vanish_s = out.flat_height_mm =
      twin::Volume<double>(count, size, 0.0);
  out.fuse_s = twin::Volume<double>(count, size, std::numeric_limits<double>::infinity());

  ExposureSettings settings;
  settings.normal_s = input.exposure_s;
  settings.vanish_from_s = range.vanish_from_s;
  settings.fuse_to_s = range.fuse_to_s;
  settings.base_share = range.base_share;
  settings.base_from_s = input.exposure_s;
  settings.slopes = slopes != nullptr;
  if (slopes) slopes->blur = slopes->depth = twin::Volume<double>(count, size, 0.0);
  const Result<ExposureContext> context =
      ExposureContext::create(input.model, size, input.pitch, input.plans, settings);
  REQUIRE(context.has_value());

  ExposurePass pass(*context);
  std::vector<CriticalLayer> finished;
  for (std::uint32_t n = count; n-- > 0;) {
    const Mask mask = solid(input.layers[n]);
    light_of(input, n, mask, out.light);
    for (std::uint32_t r = 0; r < size.height_px; ++r) {
      for (const Span& span : mask.row(r))
        for (std::uint32_t c = span.begin; c < span.end; ++c) out.solid.at(n, r, c) = 1;
    }
    pass.add(n + 1, input.layers[n], mask, finished);
    auto& where = input.plans[n].kind == LayerKind::normal ? out.settled_per_s : out.settled_fixed;
    for (std::uint32_t r = 0; r < size.height_px; ++r)
      for (std::uint32_t c = 0; c < size.width_px; ++c) where.at(n, r, c) = pass.settled(r, c);
  }
  while (auto layer = pass.finish_next()) finished.push_back(std::move(*layer));

  std::uint32_t last = count + 1;
  for (const CriticalLayer& layer : finished) {
    REQUIRE(layer.layer == last - 1);
    last = layer.layer;
    REQUIRE((layer.fuse.empty() || input.plans[layer.layer - 1].kind == LayerKind::normal));
    lay_out_spans(layer.propped, layer.layer - 1, out.propped);
    if (layer.has_bulk) std::fill_n(&out.bulk.at(layer.layer - 1, 0, 0), size.width_px * size.height_px, 1);
    lay_out(layer.vanish, layer.layer - 1, out.vanish_s, nullptr, slopes);
    lay_out(layer.fuse, layer.layer - 1, out.fuse_s, &out.flat_height_mm, slopes);
  }
  REQUIRE(finished.size() == count);
  for (std::size_t i = 0; i < out.thin.values.size(); ++i) out.thin.values[i] = out.vanish_s.values[i] > 0;
  out.base_fuse_mm3 = pass.base_losses().fuse_mm3;
  return out;
}

}  // namespace hairline::engine
