/// One band of the plate through all layers, from the top down: light, settled light, what may vanish, what may fuse
/// (docs/exposure.md).
///
/// A layer takes three steps, each for all bands at once: what a step changes no other band reads in it. `meet` finds
/// the layer's solid and the flat gaps it closes, whose light is still that of the layer above; `expose` lays its light
/// down; `list` finds what may flip.
///
/// A solid voxel holds when light enough to cure reaches any solid pixel within 3 blur of it: edges and corners of
/// sound bodies are dim, but they hang on something that is not. Pixels so bright that all within 3 blur of them holds
/// or is bulk are `good`; whatever lies further from all of them is looked at, and listed when it is thin. Likewise an
/// empty pixel is kept open by any `dark` one within 3 blur; what is `bright`, far from all of those, and inside the
/// closing of the solid or in a flat gap, is listed. So only little is looked at pixel by pixel, and bulk never.
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
  const PrintedLayer& printed;
  const Layer& layer;
  const Mask& solid;
  bool normal = true;
  float pass = 1;           ///< share of the light above that gets through the layer above
  double full_light_s = 0;  ///< critical exposure of solid in full light
  double threshold_s = 0;   ///< settled light that fuses, in seconds of full light
  float greatest = 0;       ///< mask value of the layer, 0..1
  float bulk_above = 0;     ///< light above which all solid within 3 blur is bulk
  float good_above = 0;     ///< the same, or it holds over the whole range
  float bright_above = 0;   ///< settled light above which an empty pixel may fuse within the range
  float narrow_above = 0;   ///< the same in a narrow gap; above `bright_above` where flat gaps fuse sooner
  bool seek_bulk = false;   ///< no pixel is bright enough to be bulk for sure, so it has to be looked for
};

/// Bulk: solid whose light is at least this share of the greatest mask value around it, where that is at least
/// `bulk_value`.
inline constexpr float bulk_share = 0.98f, bulk_value = 0.9f;

/// Buffers of one thread; hold no result.
struct BandScratch {
  Blurrer blurrer;
  std::vector<TileBits> solid;
  std::vector<float> light;
  std::vector<ClosedGap> closed;
  SearchWindow around, wide, values;
};

/// What a band says of a layer once no flat gap can reach it any more.
struct BandLists {
  std::vector<CriticalRun> vanish, fuse;
  std::vector<RowSpan> propped;
  bool has_bulk = false;
  std::uint64_t base_filled_px = 0;
};

class Band {
 public:
  Band(const ExposureContext::State& context, std::uint32_t ty);
  Band(Band&&) = default;

  /// The three steps; `bands`: all of them, each of which has taken the step before.
  void meet(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  void expose(const LayerStep& step, BandScratch& scratch);
  void list(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  /// After layer 1: the flat gaps over the plate, which prop what stands on them.
  void meet_plate(std::span<const Band> bands, BandScratch& scratch);
  /// After the last layer: only lists are left to be handed out.
  void drop_light();
  /// The lists of the highest layer not yet handed out, in place of what `out` held.
  void hand_out(BandLists& out);

  /// Runs that wait for being handed out.
  std::uint64_t listed() const { return listed_; }
  std::uint64_t light_bytes() const { return linear_.bytes() + fixed_.bytes(); }
  /// Has some solid pixel of the layer exposed last enough light to be bulk for sure?
  bool surely_bulk() const { return surely_bulk_; }
  /// Settled light of the layer added last, in the units it is judged in: at 1 s for normal layers, at the job's times
  /// for the base.
  float settled(std::uint32_t tx, std::uint32_t y, std::uint32_t x) const;

 private:
  // Voxels of flat gaps that close on one layer: the same in all layers of the gap. There may be millions of these.
  struct FlatRun {
    std::uint32_t begin = 0, end = 0;
    float critical_s = 0;
    std::uint32_t row : 5 = 0;     // in the band
    std::uint32_t since : 27 = 0;  // the solid above the gap
  };
  struct Waiting {
    std::uint32_t layer = 0;  // 0: the plate
    bool has_bulk = false;
    std::vector<CriticalRun> vanish, narrow;
    std::vector<FlatRun> floor_of;    // gaps whose floor this layer is, sorted
    std::uint32_t highest_since = 0;  // of them
    std::uint64_t size() const { return vanish.size() + narrow.size() + floor_of.size(); }
  };
  struct Listed;   // a tile with listed pixels
  struct Closing;  // a tile with flat gaps that close

  void find_solid(const LayerStep& step, BandScratch& scratch);
  void expose_tile(const LayerStep& step, std::uint32_t tx, const TileLight& light);
  void leave_uniform(const LayerStep& step, std::uint32_t tx, float light);
  void sort_empty(const LayerStep& step, std::uint32_t tx);
  void close_gaps(std::span<const Band> bands, BandScratch& scratch);
  bool look_into(Closing& tile, double threshold_s, std::span<const Band> bands, BandScratch& scratch) const;
  void close_voxel(const FlatRun& voxel);
  CriticalRun flat_run(const FlatRun& flat, std::uint32_t floor) const;
  bool evenly_lit(std::span<const Band> bands, std::uint32_t tx) const;
  void gather_flat(std::uint32_t layer, std::vector<CriticalRun>& out) const;
  void gather_propped(std::uint32_t layer, std::vector<RowSpan>& out) const;
  void list_vanishing(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  void drop_bulk(const LayerStep& step, BandScratch& scratch, Listed& tile);
  void list_narrow(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch);
  void look_around(BandScratch& scratch, Listed& tile, auto set_key) const;
  Rect reach_around(const Rect& box) const;
  double blur_slope_of_fuse(const LayerStep& step, float settled, float light, float wider) const;

  const ExposureContext::State& context_;
  std::uint32_t ty_ = 0, tiles_ = 0;
  bool in_base_ = false;  // the layer added last is a base or transition layer
  FieldBand linear_, fixed_;
  FlatGaps gaps_;
  BandEdges edges_;
  BitBand next_;                          // solid of the layer that is met, until it is exposed
  BitBand solid_, good_, bright_, dark_;  // of the layer exposed last; bright and dark: its empty pixels
  BitBand near_bulk_;                     // solid pixels that could make others bulk, while none is so for sure
  bool surely_bulk_ = false;
  std::deque<Waiting> waiting_;  // highest layer first
  std::uint64_t listed_ = 0;     // runs in it
};

}  // namespace hairline::exposure
