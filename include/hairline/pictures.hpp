/// Pictures of a job for the report page, as rasters of plain values: colours are the page's.
#pragma once
#include <cstdint>
#include <filesystem>
#include <vector>

namespace hairline {

/// Rows from top to bottom, one byte a pixel. A pixel is `pitch_x_mm` by `pitch_y_mm` of the print.
struct Raster {
  std::uint32_t width_px = 0, height_px = 0;
  double pitch_x_mm = 0, pitch_y_mm = 0;
  std::vector<std::uint8_t> values;  ///< width_px * height_px
};

/// The whole print from three sides; 0: nothing there, 1 (what is farthest) to 255 (what is nearest) by depth. Front
/// and side: height upwards; front: x to the right, seen from the largest y; side: y to the right, seen from the
/// largest x; top: x to the right, y down, seen from above. The outer corner is that of the image and the plate, and
/// nothing is cut off. Pixels are square and the same in all three, at most 800 on the longest side; nothing is thinner
/// than one.
struct Silhouettes {
  Raster front, side, top;
};

/// What becomes of a voxel at one exposure.
enum class Becomes : std::uint8_t { empty, kept, missing, filled };

/// One layer around a detail, or one upright cut through it; values are `Becomes`. Where several voxels make one pixel
/// what changes is shown before what stays.
struct DetailSlice {
  std::uint32_t layer = 0;           ///< 0: the upright cut
  Raster drawn, printed, suggested;  ///< as drawn (empty and kept only), at the judged time, at the suggested one;
                                     ///< `suggested` is empty where that time is the judged one or none is suggested
};

/// A detail and what is around it: its box grown by 10 blur, 0.5 mm at least, within plate and print (of a very large
/// one what lies around its seed), at most 128 pixels on the longer side. Whatever surely flips is shown, of this
/// detail and of others; what only may flip is not. Gaps of base and transition layers are not filled.
struct DetailPictures {
  std::uint32_t id = 0;             ///< of the detail, as in the report
  double x_mm = 0, y_mm = 0;        ///< of the slices' top left corner
  std::vector<DetailSlice> slices;  ///< from the lowest layer up, at most 24, spread over the detail's layers
  DetailSlice upright;  ///< along the detail's longer side (`along_x`), where most of it flips; height upwards
  bool along_x = true;
  double cut_mm = 0;                 ///< y (`along_x`; else x) of the upright cut
  double bottom_mm = 0, top_mm = 0;  ///< heights of the upright cut's lower and upper edge
};

struct Pictures {
  /// Asked for: the file that takes what flips in each layer (hairline/flips.hpp); empty: none is written.
  std::filesystem::path flips_file;
  Silhouettes silhouettes;
  /// Of each group of lost details that are alike the worst one, worst group first, 40 at most; empty without a record.
  std::vector<DetailPictures> details;
};

}  // namespace hairline
