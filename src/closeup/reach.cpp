// The greatest distance from a detail's voxels to what stays of its kind.
#include <bit>
#include <cmath>
#include <limits>

#include "around.hpp"
#include "envelope.hpp"

namespace hairline {

using namespace closeup;

namespace {

double square(double value) {
  return value * value;
}

// Columns from one of a row to the nearest one that is set; `far` where there is none.
constexpr int far = std::numeric_limits<int>::max();
int columns_to_set(const std::uint64_t* row, int words, int col) {
  const int at = col / 64, bit = col % 64;
  int nearest = far;
  const std::uint64_t left = row[at] << (63 - bit), right = row[at] >> bit;
  if (left != 0) nearest = std::countl_zero(left);
  for (int w = at - 1; left == 0 && w >= 0; --w) {
    if (row[w] == 0) continue;
    nearest = col - (64 * w + 63 - std::countl_zero(row[w]));
    break;
  }
  if (right != 0) return std::min(nearest, std::countr_zero(right));
  for (int w = at + 1; w < words && 64 * w - col < nearest; ++w)
    if (row[w] != 0) return std::min(nearest, 64 * w + std::countr_zero(row[w]) - col);
  return nearest;
}

// Distances to what stays.
class Distances {
 public:
  Distances(const VoxelBits& stays, const CloseupScale& scale)
      : stays_(stays), scale_(scale), last_layer_(stays_.box().from_layer), last_row_(stays_.box().y0) {}

  // Square of the distance from one voxel, mm2; where it is at most `enough`, any upper bound of it under that.
  double nearest(const VoxelPlace& from, double enough) {
    const BoxVoxels& box = stays_.box();
    double best = std::numeric_limits<double>::infinity();
    const double z = middle_mm(scale_, from.layer);
    const auto look_along = [&](std::uint32_t n, int y) {
      ++rows_looked_at_;
      const int dx = columns_to_set(stays_.row(n, y), static_cast<int>(stays_.words()), from.col - box.x0);
      if (dx == far) return;
      const double here = square(middle_mm(scale_, n) - z) + square((y - from.row) * scale_.pitch.y_mm) +
                          square(dx * scale_.pitch.x_mm);
      if (here >= best) return;
      best = here;
      last_layer_ = n, last_row_ = y;
    };
    look_along(last_layer_, last_row_);          // likely a near one again
    const auto look_in = [&](std::uint32_t n) {  // false: nothing nearer can follow
      const double dz2 = square(middle_mm(scale_, n) - z);
      if (dz2 >= best || best <= enough) return false;
      for (int dy = 0; best > enough && dz2 + square(dy * scale_.pitch.y_mm) < best && dy < box.y1 - box.y0; ++dy) {
        for (const int y : {from.row - dy, from.row + dy}) {
          if (y >= box.y0 && y < box.y1) look_along(n, y);
        }
      }
      return true;
    };
    std::uint32_t up = from.layer, down = from.layer;
    bool more_up = look_in(up), more_down = more_up;
    while (more_up || more_down) {
      more_up = more_up && ++up <= box.to_layer && look_in(up);
      more_down = more_down && --down >= box.from_layer && look_in(down);
    }
    return best;
  }
  // Has the search taken longer than working out all distances would take?
  bool is_too_long(const VoxelBits& detail) const {
    const auto columns = static_cast<std::uint64_t>(detail.box().x1 - detail.box().x0);
    return rows_looked_at_ > 4 * columns * stays_.rows() * stays_.layers();
  }

 private:
  const VoxelBits& stays_;
  const CloseupScale& scale_;
  std::uint64_t rows_looked_at_ = 0;
  std::uint32_t last_layer_;  // where the last one was found
  int last_row_;
};

// The greatest distance of some voxels in the middle of their rows, so that most others need not be searched to the
// end.
double first_guess(const VoxelBits& detail, Distances& distances, double enough) {
  double greatest = 0;
  const BoxVoxels& own = detail.box();
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; n += 3) {
    for (int y = own.y0; y < own.y1 && greatest < enough && !distances.is_too_long(detail); y += 3) {
      const std::uint64_t* bits = detail.row(n, y);
      for (std::size_t w = 0; w < detail.words(); ++w) {
        if (bits[w] == 0) continue;
        const int middle = (std::countr_zero(bits[w]) + 63 - std::countl_zero(bits[w])) / 2;
        if ((bits[w] >> middle & 1) == 0) continue;
        greatest = std::max(greatest, distances.nearest({n, y, own.x0 + static_cast<int>(w) * 64 + middle}, greatest));
      }
    }
  }
  return greatest;
}

// Square of the greatest distance between its voxels and what stays, mm2; where it is at least `enough` any value from
// that on. Unset where what stays is so far that the search gets too long.
std::optional<double> search_reach_mm2(const VoxelBits& detail, const VoxelBits& stays, const CloseupScale& scale,
                                       double enough) {
  Distances distances(stays, scale);
  const BoxVoxels& own = detail.box();
  double greatest = first_guess(detail, distances, enough);
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n) {
    for (int y = own.y0; y < own.y1 && greatest < enough; ++y) {
      const std::uint64_t* bits = detail.row(n, y);
      int next = own.x0;  // nearer ones to the left of it are no farther than the greatest
      for (std::size_t w = 0; w < detail.words(); ++w) {
        for (std::uint64_t word = bits[w]; word != 0; word &= word - 1) {
          const int col = own.x0 + static_cast<int>(w) * 64 + std::countr_zero(word);
          if (col < next) continue;
          const double nearest = distances.nearest({n, y, col}, greatest);
          greatest = std::max(greatest, nearest);
          if (greatest >= enough) return greatest;
          if (distances.is_too_long(detail)) return std::nullopt;
          next = col + 1 + static_cast<int>((1 - 1e-6) * (std::sqrt(greatest) - std::sqrt(nearest)) / scale.pitch.x_mm);
        }
      }
    }
  }
  return greatest;
}

// The same, to the end: one column of the detail after the other, first over the columns of all rows around it, then
// over the rows, then over the layers.
double transformed_reach_mm2(const VoxelBits& detail, const VoxelBits& stays, const CloseupScale& scale) {
  const BoxVoxels &box = stays.box(), &own = detail.box();
  const int words = static_cast<int>(stays.words());
  std::vector<double> rows_mm, layers_mm;
  for (int y = box.y0; y < box.y1; ++y) rows_mm.push_back(y * scale.pitch.y_mm);
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) layers_mm.push_back(middle_mm(scale, n));
  Envelope over_rows(rows_mm), over_layers(layers_mm);
  std::vector<double> row_mm2(rows_mm.size()), nearest_mm2;
  std::vector<std::vector<double>> column_mm2(detail.rows(), std::vector<double>(layers_mm.size()));  // by own row
  double greatest = 0;
  for (int x = own.x0; x < own.x1; ++x) {
    for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) {
      for (int y = box.y0; y < box.y1; ++y) {
        const int dx = columns_to_set(stays.row(n, y), words, x - box.x0);
        row_mm2[y - box.y0] = dx == far ? INFINITY : square(dx * scale.pitch.x_mm);
      }
      over_rows.transform(row_mm2, nearest_mm2);
      for (int y = own.y0; y < own.y1; ++y) column_mm2[y - own.y0][n - box.from_layer] = nearest_mm2[y - box.y0];
    }
    for (int y = own.y0; y < own.y1; ++y) {
      over_layers.transform(column_mm2[y - own.y0], nearest_mm2);
      for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n)
        if (detail.at(n, y, x)) greatest = std::max(greatest, nearest_mm2[n - box.from_layer]);
    }
  }
  return greatest;
}

}  // namespace

VoxelBits closeup::stays_of(const Closeup& at) {
  VoxelBits stays = cropped(at.solid, at.goes.box());
  for (std::size_t i = 0; i < stays.bits().size(); ++i)
    stays.bits()[i] = (at.vanish ? stays.bits()[i] : ~stays.bits()[i]) & ~at.goes.bits()[i];
  keep_inside(stays);
  return stays;
}

std::optional<double> reach_mm(const Closeup& at, const CloseupScale& scale, double enough_mm) {
  const VoxelBits stays = stays_of(at);
  const auto searched = search_reach_mm2(at.detail, stays, scale, square(enough_mm));
  const double reach_mm2 = searched ? *searched : transformed_reach_mm2(at.detail, stays, scale);
  if (!std::isfinite(reach_mm2)) return std::nullopt;
  return std::sqrt(reach_mm2);
}

}  // namespace hairline
