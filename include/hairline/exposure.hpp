/// Light, settled light, and the exposure at which each voxel flips (docs/exposure.md).
///
/// One pass over the layers from the top down, because light of later layers reaches back into earlier ones. Within a
/// layer the plate is cut into bands, worked on by all threads oneTBB allows; results do not depend on their number.
///
/// Everything is exact for every exposure time at once: a voxel's critical exposure is the normal exposure at which it
/// flips.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/model.hpp"
#include "hairline/result.hpp"
#include "hairline/settings.hpp"

namespace hairline {

/// Voxels [begin, end) of one row that flip at the same exposure.
struct CriticalRun {
  std::uint32_t row = 0, begin = 0, end = 0;
  /// Normal layers: the job's normal exposure, s, at which they flip. Base and transition layers: the layer's own time,
  /// s, under which they are lost. > 0.
  float critical_s = 0;
  float blur_slope = 0;   ///< d ln(critical) / d ln(blur); 0 unless slopes were asked for
  float depth_slope = 0;  ///< d ln(critical) / d ln(Dp), without the layer-height term
  float height_mm = 0;    ///< of the flat gap that closes; 0 for walls and upright gaps
  bool operator==(const CriticalRun&) const = default;
};

/// Columns [begin, end) of one row.
struct RowSpan {
  std::uint32_t row = 0, begin = 0, end = 0;
  bool operator==(const RowSpan&) const = default;
};

/// What may flip in one layer, both lists sorted by (row, begin), without overlap. `vanish` holds thin solid only: bulk
/// (docs/exposure.md) is one question for the whole layer. `fuse` is empty in base and transition layers.
struct CriticalLayer {
  std::uint32_t layer = 0;  ///< 1-based
  bool has_bulk = false;
  std::vector<CriticalRun> vanish, fuse;
  /// Solid of this layer that stands over a flat gap which closes at the job's times, onto solid or (for this list
  /// alone) onto the plate; sorted, not overlapping.
  std::vector<RowSpan> propped;
};

/// Gaps that close in layers at base or transition time, at the job's own times, pixels weighted with layer height.
struct BaseLosses {
  double fuse_mm3 = 0;
};

struct ExposureSettings {
  double normal_s = 2.5;     ///< the job's normal exposure: gaps of base layers are judged at the times it gives
  double vanish_from_s = 0;  ///< solid is listed when its critical exposure is at least this
  double fuse_to_s = 0;      ///< gaps are listed when their critical exposure is at most this (or normal_s if more)
  /// The same for solid in base and transition layers, as a share of the layer's own time at a normal exposure of
  /// `base_from_s`.
  double base_share = 0, base_from_s = 0;
  bool slopes = false;  ///< fill in blur_slope (costs a second blur of the tiles where something is listed)
};

/// All that the pass needs to know about a job; read-only.
class ExposureContext {
 public:
  /// Fails with limit when the blur is more than 8 pixels (the pitch is then far finer than the light).
  static Result<ExposureContext> create(const CureModel& model, Size size, Pitch pitch,
                                        std::vector<PrintedLayer> layers, const ExposureSettings& settings);
  struct State;
  const State& state() const { return *state_; }

 private:
  std::shared_ptr<const State> state_;
};

/// Light, settled light and what may flip, layer by layer from the top down.
class ExposurePass {
 public:
  explicit ExposurePass(const ExposureContext& context);
  ~ExposurePass();
  ExposurePass(ExposurePass&&) noexcept;
  ExposurePass& operator=(ExposurePass&&) noexcept;

  /// Adds layer `number`; numbers fall by one from layer count to 1. Appends to `finished` the layers whose lists are
  /// final (a flat gap is known only when the solid below it arrives, so a layer is final up to 4 Dp later).
  /// Stops listing once it would hold more than `most_bytes`: `bytes` is more then, and what is listed is good for
  /// nothing.
  void add(std::uint32_t number, const Layer& layer, const Mask& solid, std::vector<CriticalLayer>& finished,
           std::uint64_t most_bytes = UINT64_MAX);
  /// Memory held: light, solid of the layers a flat gap may reach through, and lists not yet handed out, with room for
  /// putting them together. Same layers, same number.
  std::uint64_t bytes() const;
  /// After layer 1, again and again: the layers not handed out so far, in falling order, then nothing. Light is let go:
  /// `settled` is not to be asked any more.
  std::optional<CriticalLayer> finish_next();
  /// Complete once `finish_next` has given all.
  const BaseLosses& base_losses() const;
  /// Settled light of the layer added last at one pixel, in seconds of full light at a normal exposure of 1 s (normal
  /// layers) or at the job's times (base layers); row and column from 0, inside the image. For tests and pictures. Of
  /// the layer added first it is that layer's light times its share of the normal exposure.
  float settled(std::uint32_t row, std::uint32_t col) const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hairline
