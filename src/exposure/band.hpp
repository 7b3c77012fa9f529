/// One band of the plate through all layers, from the top down: light, settled light, what may vanish, what may fuse
/// (design 6.1 to 6.4).
///
/// A layer takes two steps. `expose` touches nothing but the band itself; `list` reads its neighbours' bits and light
/// as `expose` left them. So each step can run for all bands at once.
///
/// A solid voxel holds when light enough to cure reaches any solid pixel within 3 blur of it: edges and corners of
/// sound bodies are dim, but they hang on something that is not. Pixels bright enough are `good`; whatever lies further
/// than 3 blur from all of them is listed. Likewise an empty pixel is kept open by any `dark` one within 3 blur; what
/// is `bright`, far from all of those, and inside the closing of the solid, is listed. So only what is listed is looked
/// at pixel by pixel.
///
/// Two fields of settled light are kept: `linear`, light of the normal layers at a normal exposure of 1 s, and `fixed`,
/// light of base and transition layers at their own times. Base layers lie below the normal ones, so above them `fixed`
/// is zero.
#pragma once
#include <deque>
#include <span>

#include "blur.hpp"
#include "context.hpp"
#include "edges.hpp"
#include "field.hpp"
#include "flat_gaps.hpp"
#include "search.hpp"

namespace hairline::exposure {

/// A layer on its way through the bands.
struct LayerStep {
  std::uint32_t number = 0;
  const LayerPlan& plan;
  const Layer& layer;
  const Mask& solid;
  bool normal = true;
  float pass = 1;           ///< share of the light above that gets through the layer above
  double full_light_s = 0;  ///< normal exposure at which full light just holds
  double threshold_s = 0;   ///< settled light that fuses, in seconds of full light
  float good_above = 0;     ///< light above which a solid pixel holds over the whole range (base: at its own time)
  float bright_above = 0;   ///< settled light above which an empty pixel may fuse within the range
};

/// Buffers of one thread; hold no result.
struct BandScratch {
  Blurrer blurrer;
  BandEdges edges;
  std::vector<TileBits> solid;
  std::vector<float> light;
  std::vector<ClosedGap> closed;
  SearchWindow around;
};

/// What a band says of a layer once no flat gap can reach it any more.
struct BandLists {
  std::vector<CriticalRun> vanish, fuse;
  std::uint64_t base_filled_px = 0;
};

class Band {
 public:
  Band(const ExposureContext::State& context, std::uint32_t ty);
  Band(Band&&) = default;

  void expose(const LayerStep& step, BandScratch& scratch);
  /// `bands`: all of them. Precondition: every band has taken `expose`.
  void list(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  /// The lists of the highest layer not yet handed out, in place of what `out` held.
  void hand_out(BandLists& out);

  std::uint64_t base_lost_px() const { return base_lost_px_; }
  /// Settled light of the layer added last, in the units it is judged in: at 1 s for normal layers, at the job's times
  /// for the base.
  float settled(std::uint32_t tx, std::uint32_t y, std::uint32_t x) const;

 private:
  // Voxels of flat gaps that close on one layer: the same in all layers of the gap.
  struct FlatRun {
    CriticalRun run;
    std::uint32_t since = 0;  // the solid above the gap
    bool listed = false;      // in the layers at the normal exposure
    bool base_fills = false;  // in base and transition layers
    bool base_alone = false;  // even with no other light, so in all layers
  };
  struct Waiting {
    std::uint32_t layer = 0;
    std::vector<CriticalRun> vanish, narrow;
    std::vector<FlatRun> floor_of;    // gaps whose floor this layer is, sorted
    std::uint32_t highest_since = 0;  // of them
  };
  struct Listed;  // a tile with listed pixels

  void find_solid(const LayerStep& step, BandScratch& scratch);
  void expose_tile(const LayerStep& step, std::uint32_t tx, const TileLight& light);
  void leave_uniform(const LayerStep& step, std::uint32_t tx, float light);
  void sort_empty(const LayerStep& step, std::uint32_t tx);
  void close_gaps(const std::vector<ClosedGap>& gaps);
  void close_gap(const ClosedGap& gap, double threshold_s, std::uint32_t y, Span columns);
  void fill_flat(const ClosedGap& gap, double threshold_s, CriticalRun run, float settled_linear, float settled_fixed);
  void gather_flat(std::uint32_t layer, std::vector<CriticalRun>& out) const;
  void list_vanishing(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  void list_narrow(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  void look_around(BandScratch& scratch, Listed& tile, auto set_key) const;
  double blur_slope_of_fuse(const LayerStep& step, float settled, float light, float wider) const;

  const ExposureContext::State& context_;
  std::uint32_t ty_ = 0, tiles_ = 0;
  bool in_base_ = false;  // the layer added last is a base or transition layer
  FieldBand linear_, fixed_;
  FlatGaps gaps_;
  BitBand solid_, good_, bright_, dark_;  // of the layer added last; bright and dark: its empty pixels
  std::deque<Waiting> waiting_;           // highest layer first
  std::uint64_t base_lost_px_ = 0;        // in the layer added last
};

}  // namespace hairline::exposure
