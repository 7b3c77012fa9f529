/// The whole print from three sides, drawn layer by layer from the top down (include/hairline/pictures.hpp).
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/pictures.hpp"
#include "hairline/settings.hpp"

namespace hairline {

class SilhouetteDrawer {
 public:
  /// `layers` is not empty and has to outlive the drawer.
  SilhouetteDrawer(Size size, Pitch pitch, const std::vector<PrintedLayer>& layers);
  /// Adds layer `number`; numbers fall from call to call. Work: once over the spans of rows that differ.
  void add(std::uint32_t number, const Mask& solid);
  std::uint64_t bytes() const;
  Silhouettes finish() const;

 private:
  // What is nearest at each pixel: row + 1, column + 1 or the layer's number; 0: nothing.
  struct Grid {
    std::uint32_t width_px = 0, height_px = 0;
    std::vector<std::uint32_t> nearest;
    std::uint32_t* row(std::uint32_t r) { return nearest.data() + std::size_t{r} * width_px; }
  };
  // Pixels from `begin` up to `end`, at least one, of what lies between two edges of the masks.
  struct Bins {
    std::uint32_t begin, end;
    bool operator==(const Bins&) const = default;
  };
  // From mm along one direction to pixels.
  class Axis {
   public:
    Axis(double length_mm, double pixel_mm);
    std::uint32_t pixels() const { return pixels_; }
    Bins bins(double from_mm, double to_mm) const;

   private:
    double pixel_mm_;
    std::uint32_t pixels_;
  };

  Grid grid(const Axis& across, const Axis& down) const;
  void fill_rows(Grid& grid, const std::vector<std::uint32_t>& line, double from_mm, double to_mm) const;
  template <class Depth>
  Raster shaded(const Grid& grid, Depth depth_mm) const;

  Pitch pitch_;
  const std::vector<PrintedLayer>& layers_;
  double pixel_mm_;
  Axis x_, y_, z_;
  std::vector<Bins> bins_of_row_;
  Grid front_, side_, top_;
};

}  // namespace hairline
