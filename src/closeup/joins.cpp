// What a gap does to the spaces and solids around it: does it lie in a closed cavity, weld, or shut a way?
#include <algorithm>
#include <bit>

#include "around.hpp"

namespace hairline {

using namespace closeup;

namespace {

constexpr double least_piece = 0.1;  // of the part that joined it to another: less is a speck of it

bool leaves(const VoxelRun& run, const BoxVoxels& box) {
  return (run.layer == box.from_layer && run.layer > 1) || run.layer == box.to_layer || run.row == box.y0 ||
         run.row == box.y1 - 1 || run.begin == box.x0 || run.end == box.x1;
}

// What of `among` shares a face with the detail, inside the box of `among`.
VoxelBits beside(const VoxelBits& wide, const VoxelBits& among) {
  const BoxVoxels& near = among.box();
  const VoxelBits detail = cropped(wide, near);
  VoxelBits touched(near);
  for (std::uint32_t n = near.from_layer; n <= near.to_layer; ++n) {
    for (int y = near.y0; y < near.y1; ++y) {
      std::uint64_t* out = touched.row(n, y);
      or_moved(detail.row(n, y), detail.words(), 1, out);
      const auto take = [&](std::uint32_t layer, int row) {
        const std::uint64_t* from = detail.row(layer, row);
        for (std::size_t w = 0; w < detail.words(); ++w) out[w] |= from[w];
      };
      if (y > near.y0) take(n, y - 1);
      if (y + 1 < near.y1) take(n, y + 1);
      if (n > near.from_layer) take(n - 1, y);
      if (n < near.to_layer) take(n + 1, y);
      for (std::size_t w = 0; w < detail.words(); ++w) out[w] &= among.row(n, y)[w];
    }
  }
  return touched;
}

std::optional<VoxelPlace> first_of(const VoxelBits& bits) {
  const auto at = std::find_if(bits.bits().begin(), bits.bits().end(), [](std::uint64_t word) { return word != 0; });
  if (at == bits.bits().end()) return std::nullopt;
  const auto word = static_cast<std::size_t>(at - bits.bits().begin()), row = word / bits.words();
  return VoxelPlace{bits.box().from_layer + static_cast<std::uint32_t>(row / bits.rows()),
                    bits.box().y0 + static_cast<int>(row % bits.rows()),
                    bits.box().x0 + static_cast<int>(word % bits.words()) * 64 + std::countr_zero(*at)};
}

// Are all of these voxels in one piece?
bool are_joined(const VoxelBits& voxels, VoxelBits among) {
  const auto first = first_of(voxels);
  if (!first) return true;
  std::uint64_t left = voxels.count();
  take_connected(among, *first, among.box(), [&](const VoxelRun& run) { return (left -= voxels.count(run)) == 0; });
  return left == 0;
}

// Does the detail touch two pieces of `among` that count?
bool touches_two(const VoxelBits& detail, VoxelBits among, const auto& counts) {
  VoxelBits touched = beside(detail, among);
  int pieces = 0;
  for (auto first = first_of(touched); first && pieces < 2; first = first_of(touched)) {
    std::vector<VoxelRun> piece;
    take_connected(among, *first, among.box(), [&](const VoxelRun& run) {
      piece.push_back(run);
      return false;
    });
    touched = both(std::move(touched), among);
    pieces += counts(piece);
  }
  return pieces == 2;
}

// The boxes of 5 blur around each of the detail's voxels, not only around all of them.
VoxelBits near_detail(const Closeup& at, const BoxVoxels& box, const CloseupScale& scale) {
  VoxelBits out(box);
  const BoxVoxels& own = at.detail.box();
  for (std::uint32_t n = own.from_layer; n <= own.to_layer; ++n) {
    VoxelBits layer({box.x0, box.y0, box.x1, box.y1, n, n});
    BoxVoxels near;
    for (int y = own.y0; y < own.y1; ++y) {
      for (auto run = at.detail.next(n, y, own.x0); run; run = at.detail.next(n, y, run->end)) {
        near = weld_box({run->begin, y, run->end, y + 1, n, n}, scale);
        for (int row = near.y0; row < near.y1; ++row) layer.set(n, row, near.x0, near.x1);
      }
    }
    for (std::uint32_t k = near.from_layer; k <= near.to_layer; ++k) {
      std::uint64_t* to = out.row(k, box.y0);
      for (const std::uint64_t word : layer.bits()) *to++ |= word;
    }
  }
  return out;
}

}  // namespace

bool in_closed_cavity(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels part = part_box(at.box, scale);
  VoxelBits empty = cropped(at.solid, part);
  for (std::uint64_t& word : empty.bits()) word = ~word;
  bool open = false;
  take_connected(empty, at.seed, part, [&](const VoxelRun& run) { return open = leaves(run, part); });
  return !open;
}

bool welds(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels box = weld_box(at.box, scale);
  VoxelBits solid = cropped(at.solid, box);
  const VoxelBits touched = beside(at.detail, solid);
  if (!at.filled.bits().empty()) add(solid, cropped(at.filled, box));
  return !are_joined(touched, both(near_detail(at, box, scale), solid));
}

bool roofed(const Closeup& at) {
  const BoxVoxels& box = at.detail.box();
  std::uint64_t faces = 0, under_solid = 0;
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n)
    for (int y = box.y0; y < box.y1; ++y)
      for (auto run = at.detail.next(n, y, box.x0); run; run = at.detail.next(n, y, run->end))
        for (int x = run->begin; x < run->end; ++x) {
          if (at.detail.at(n + 1, y, x)) continue;
          ++faces;
          under_solid += at.solid.at(n + 1, y, x);
        }
  return 2 * under_solid > faces;
}

bool shuts(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels box = weld_box(at.box, scale);
  return touches_two(at.detail, cropped(stays_of(at), box), [&](const std::vector<VoxelRun>& piece) {
    return std::any_of(piece.begin(), piece.end(), [&](const VoxelRun& run) { return leaves(run, box); });
  });
}

bool breaks(const Closeup& at, const CloseupScale& scale) {
  const BoxVoxels box = weld_box(at.box, scale);
  const double least = least_piece * static_cast<double>(at.detail.count());
  return touches_two(at.detail, both(near_detail(at, box, scale), cropped(stays_of(at), box)),
                     [&](const std::vector<VoxelRun>& piece) {
                       int voxels = 0;
                       for (const VoxelRun& run : piece) voxels += run.end - run.begin;
                       return voxels >= least;
                     });
}

}  // namespace hairline
