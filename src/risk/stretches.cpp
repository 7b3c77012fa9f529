#include "stretches.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace hairline::risk {

std::vector<Stretch> stretches_of(const std::vector<RiskRun>& runs) {
  const auto goes_on = [&](std::size_t i) {
    return i > 0 && runs[i - 1].row == runs[i].row && runs[i - 1].end == runs[i].begin &&
           runs[i - 1].lots == runs[i].lots;
  };
  std::size_t count = 0;
  for (std::size_t i = 0; i < runs.size(); ++i) count += goes_on(i) ? 0 : 1;
  std::vector<Stretch> out;
  out.reserve(count);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (goes_on(i))
      out.back().end = runs[i].end;
    else
      out.push_back({runs[i].row, runs[i].begin, runs[i].end, runs[i].lots, 0, {}});
  }
  return out;
}

namespace {

// Rows of a layer as far as one around a stretch; a layer that is not there has no rows.
struct ThreeRows {
  std::array<RowScan, 3> scans;
  explicit ThreeRows(const Mask& mask) : scans{RowScan(mask), RowScan(mask), RowScan(mask)} {}
  RowScan& at(int dr) { return scans[static_cast<std::size_t>(dr + 1)]; }
};

// Faces to solid, then those to empty are the rest: beyond the image and above the top it is empty; below is the plate.
class FaceMeter {
 public:
  FaceMeter(Fate fate, const Surroundings& around, const Faces& faces)
      : solid_(fate == Fate::vanish),
        around_(around),
        faces_(faces),
        here_(around.here.solid),
        above_(around.above ? around.above->solid : nothing()),
        below_(around.below ? around.below->solid : nothing()) {}

  void measure(Stretch& s) {
    const std::int64_t begin = s.begin, end = s.end, pixels = end - begin;
    std::int64_t rows = 0, sides = 0, up = 0, down = 0;
    for (const int dr : {-1, 1}) {
      here_.at(dr).meet(s.row + dr, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
        rows += to - from;
        if (!solid_) note_side(s, dr, span, from, to);
      });
    }
    here_.at(0).meet(s.row, begin - 1, end + 1, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      sides += (from < begin ? 1 : 0) + (to > end ? 1 : 0);
      if (!solid_) note_side(s, 0, span, from, to);
    });
    above_.meet(s.row, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      up += to - from;
      if (!solid_) s.sides.above.add(around_.above->pieces.of_span[span]);
    });
    below_.meet(s.row, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      down += to - from;
      if (!solid_) s.sides.below.add(around_.below->pieces.of_span[span]);
    });
    s.sides.roof = up > 0;
    s.sides.floor = down > 0;
    const std::int64_t levels = solid_ ? up + down : (pixels - up) + (around_.below ? pixels - down : 0);
    s.faces_mm2 = static_cast<double>(solid_ ? sides : 2 - sides) * faces_.across_mm2 +
                  static_cast<double>(solid_ ? rows : 2 * pixels - rows) * faces_.along_mm2 +
                  static_cast<double>(levels) * faces_.level_mm2;
  }

 private:
  static const Mask& nothing() {
    static const Mask none;
    return none;
  }
  // Solid beside a gap: columns [from, to) of the row `dr` away, and what is above and below it.
  void note_side(Stretch& s, int dr, std::uint32_t span, std::int64_t from, std::int64_t to) {
    s.sides.beside.add(around_.here.pieces.of_span[span]);
    above_.anywhere(s.row + dr, from, to, [&](std::uint32_t k) {
      s.sides.above.add(around_.above->pieces.of_span[k]);
      s.sides.joined_up = true;
    });
    below_.anywhere(s.row + dr, from, to, [&](std::uint32_t k) {
      s.sides.below.add(around_.below->pieces.of_span[k]);
      s.sides.joined_down = true;
    });
  }

  bool solid_;
  const Surroundings& around_;
  const Faces& faces_;
  ThreeRows here_;
  RowScan above_, below_;
};

}  // namespace

LayerStretches make_stretches(Fate fate, std::vector<Stretch> stretches, Pitch pitch, const Surroundings& around,
                              const std::vector<Stretch>& above) {
  const double height_mm = around.printed.height_mm;
  const Faces faces{pitch.y_mm * height_mm, pitch.x_mm * height_mm, pitch.pixel_mm2()};
  LayerStretches out{fate, std::move(stretches), {}, {}, faces};
  const std::vector<Stretch>& here = out.stretches;
  FaceMeter meter(fate, around, out.faces);
  for (Stretch& stretch : out.stretches) meter.measure(stretch);
  const auto follows = [&](std::uint32_t i) {
    return here[i - 1].row == here[i].row && here[i - 1].end == here[i].begin;
  };
  // Counted first: lists this long, grown as they come, take twice their memory.
  std::size_t beside = 0, over = 0;
  for (std::uint32_t i = 1; i < here.size(); ++i) beside += follows(i) ? 1 : 0;
  for_each_meeting(here, here, 1, 1, [&](std::uint32_t, std::uint32_t) { ++beside; });
  for_each_meeting(above, here, 0, 0, [&](std::uint32_t, std::uint32_t) { ++over; });
  out.beside.reserve(beside);
  out.above.reserve(over);
  for (std::uint32_t i = 1; i < here.size(); ++i) {
    if (follows(i)) out.beside.push_back({i - 1, i});
  }
  for_each_meeting(here, here, 1, 1, [&](std::uint32_t i, std::uint32_t j) { out.beside.push_back({i, j}); });
  for_each_meeting(above, here, 0, 0, [&](std::uint32_t i, std::uint32_t j) { out.above.push_back({i, j}); });
  return out;
}

}  // namespace hairline::risk
