/// A close look at a few places: boxes of voxels, one bit each, worked on densely (docs/exposure.md, "Lost or
/// rounding").
///
/// Boxes reach as far around a detail as what is asked of it needs; they may reach beyond the image and above the top
/// layer, where everything is empty.
#pragma once
#include <cstdint>
#include <functional>
#include <optional>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/settings.hpp"

namespace hairline {

/// Columns [x0, x1), rows [y0, y1), layers [from_layer, to_layer]; columns and rows may lie outside the image.
struct BoxVoxels {
  int x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  std::uint32_t from_layer = 1, to_layer = 0;
  std::uint64_t voxels() const;
};

/// Voxels of a row, columns [begin, end).
struct VoxelRun {
  std::uint32_t layer = 0;
  int row = 0, begin = 0, end = 0;
};

/// One bit per voxel of a box. Row after row of 64-bit words, from the lowest layer up; bit i of word w is column
/// x0 + 64 w + i.
class VoxelBits {
 public:
  VoxelBits() = default;
  explicit VoxelBits(const BoxVoxels& box);
  const BoxVoxels& box() const { return box_; }
  std::uint32_t layers() const { return box_.to_layer - box_.from_layer + 1; }
  std::size_t words() const { return words_; }  ///< of a row
  std::size_t rows() const { return rows_; }
  std::uint64_t* row(std::uint32_t layer, int row) {  ///< both as in the box
    return bits_.data() + ((layer - box_.from_layer) * rows_ + static_cast<std::size_t>(row - box_.y0)) * words_;
  }
  const std::uint64_t* row(std::uint32_t layer, int row) const { return const_cast<VoxelBits*>(this)->row(layer, row); }
  bool at(std::uint32_t layer, int row, int col) const;  ///< false outside the box
  /// Sets columns [begin, end) of a row; what lies outside the box is left out.
  void set(std::uint32_t layer, int row, std::int64_t begin, std::int64_t end);
  /// Sets what a mask has of a layer.
  void set(std::uint32_t layer, const Mask& mask);
  std::uint64_t count() const;
  std::uint64_t count(const VoxelRun& run) const;  ///< inside the box only
  bool any(const VoxelRun& run) const;             ///< inside the box only
  /// The next run of set bits of a row of the box, from a column on; unset where there is none.
  std::optional<VoxelRun> next(std::uint32_t layer, int row, int col) const;
  std::vector<std::uint64_t>& bits() { return bits_; }
  const std::vector<std::uint64_t>& bits() const { return bits_; }

 private:
  BoxVoxels box_;
  std::size_t words_ = 0, rows_ = 0;
  std::vector<std::uint64_t> bits_;
};

struct VoxelPlace {
  std::uint32_t layer = 0;
  int row = 0, col = 0;
};
/// The voxels of `among` that hang together with one of them, 8-connected in a layer and over neighbouring layers where
/// they share a pixel; nothing where `from` is not among them. Inside `within` only.
VoxelBits connected(VoxelBits among, const VoxelPlace& from, const BoxVoxels& within);
/// Takes them out of `among`, run by run, until stop(run) says that it is enough.
void take_connected(VoxelBits& among, const VoxelPlace& from, const BoxVoxels& within,
                    const std::function<bool(const VoxelRun&)>& stop);

/// What a job and its record say of sizes.
struct CloseupScale {
  Pitch pitch;
  const std::vector<PrintedLayer>& layers;
  double blur_mm = 0, penetration_depth_mm = 0;
  double least_reach_mm = 0.5;  ///< distances up to this one are exact
};

/// How far around a detail's box its solid has to be known: for all that is asked below, or only for `welds`; and its
/// lots.
BoxVoxels solid_box(const BoxVoxels& detail, bool vanish, const CloseupScale& scale);
BoxVoxels weld_box(const BoxVoxels& detail, const CloseupScale& scale);
BoxVoxels lots_box(const BoxVoxels& detail, const CloseupScale& scale);

/// Thin parts of the solid of a box (vanish), or its recesses. Right as far inside the box as solid_box is larger than
/// a detail's box grown by 10 blur.
VoxelBits drawn_parts(const VoxelBits& solid, bool vanish, const CloseupScale& scale);

/// A detail and what is around it: boxes may be larger than asked for. `solid` covers solid_box (weld_box), `drawn` is
/// made from it, `goes` covers lots_box.
struct Closeup {
  bool vanish = true, may = false;
  BoxVoxels box;    ///< the detail's own
  VoxelPlace seed;  ///< one of its voxels
  const VoxelBits& solid;
  const VoxelBits& drawn;
  VoxelBits detail;  ///< its voxels
  VoxelBits goes;    ///< all voxels of its fate that will flip; for a `may` detail those that may as well
  VoxelBits filled;  ///< gaps that will close beside a `may` one, over weld_box: what they join is joined already
};

/// Share of the drawn thin part, or recess, around the detail that it takes (0..1); for a `may` detail what all of
/// `goes` takes. Where it is under `enough` any value under that, unless that is 0.
double share_of_part(const Closeup& at, const CloseupScale& scale, double enough = 0);
/// Greatest distance, mm, between one of its voxels and what stays of its kind; unset where nothing stays nearby. Where
/// it is at least `enough` any value from that on.
std::optional<double> reach_mm(const Closeup& at, const CloseupScale& scale, double enough_mm);
/// Does the empty space of a gap end nearby, without a way out?
bool in_closed_cavity(const Closeup& at, const CloseupScale& scale);
/// Does a gap touch two solids that are not joined within 5 blur of its voxels?
bool welds(const Closeup& at, const CloseupScale& scale);
/// Is there solid above most of the detail's upper faces?
bool roofed(const Closeup& at);
/// Does a gap lie between two empty spaces that stay, go on beyond its weld_box and are not joined inside that? Needs
/// `goes`.
bool shuts(const Closeup& at, const CloseupScale& scale);
/// Does a part lie between two solids that stay, each at least a tenth of it, and are not joined within 5 blur of its
/// voxels? Needs `goes`.
bool breaks(const Closeup& at, const CloseupScale& scale);

}  // namespace hairline
