#include "stretches.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::risk {

LayerStretches stretches_of(Fate fate, const std::vector<RiskRun>& runs) {
  const auto goes_on = [&](std::size_t i) {
    return i > 0 && runs[i - 1].row == runs[i].row && runs[i - 1].end == runs[i].begin &&
           runs[i - 1].lots == runs[i].lots;
  };
  std::size_t count = 0;
  for (std::size_t i = 0; i < runs.size(); ++i) count += goes_on(i) ? 0 : 1;
  LayerStretches out;
  out.fate = fate;
  out.stretches.reserve(count);
  out.lots.reserve(count);
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (goes_on(i)) {
      out.stretches.back().end = runs[i].end;
      continue;
    }
    out.stretches.push_back({runs[i].row, runs[i].begin, runs[i].end});
    out.lots.push_back(runs[i].lots);
  }
  return out;
}

std::uint64_t LayerStretches::bytes() const {
  return stretches.capacity() * sizeof(RowSpan) + lots.capacity() * sizeof(Lots) +
         faces_mm2.capacity() * sizeof(double) + sides.capacity() * sizeof(GapSides) +
         (beside.capacity() + above.capacity()) * sizeof(Touch);
}

void LotsNow::find(std::uint32_t time, const LayerStretches& layer, const LayerStretches& higher) {
  const auto fill = [time](const LayerStretches& from, std::vector<Lot>& lots) {
    lots.resize(from.lots.size());
    for (std::size_t i = 0; i < lots.size(); ++i) lots[i] = lot_at(from.fate, from.lots[i], time);
  };
  fill(layer, here);
  fill(higher, above);
}

namespace {

// Faces to solid, then those to empty are the rest: beyond the image and above the top it is empty; below is the plate.
class FaceMeter {
 public:
  FaceMeter(Fate fate, const Surroundings& around, const Faces& faces)
      : solid_(fate == Fate::vanish),
        around_(around),
        faces_(faces),
        before_(around.here.solid),
        here_(around.here.solid),
        after_(around.here.solid),
        above_(around.above ? around.above->solid : nothing()),
        below_(around.below ? around.below->solid : nothing()) {}

  // Area of the faces; and what a gap lies between.
  double measure(const RowSpan& s, GapSides& sides_of) {
    const std::int64_t begin = s.begin, end = s.end, pixels = end - begin;
    std::int64_t rows = 0, sides = 0, up = 0, down = 0;
    for (const int dr : {-1, 1}) {
      (dr < 0 ? before_ : after_)
          .meet(s.row + dr, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
            rows += to - from;
            if (!solid_) note_side(s, dr, span, from, to, sides_of);
          });
    }
    here_.meet(s.row, begin - 1, end + 1, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      sides += (from < begin ? 1 : 0) + (to > end ? 1 : 0);
      if (!solid_) note_side(s, 0, span, from, to, sides_of);
    });
    above_.meet(s.row, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      up += to - from;
      if (!solid_) sides_of.above.add(around_.above->pieces.of_span[span]);
    });
    below_.meet(s.row, begin, end, [&](std::uint32_t span, std::int64_t from, std::int64_t to) {
      down += to - from;
      if (!solid_) sides_of.below.add(around_.below->pieces.of_span[span]);
    });
    sides_of.roof = up > 0;
    sides_of.floor = down > 0;
    const std::int64_t levels = solid_ ? up + down : (pixels - up) + (around_.below ? pixels - down : 0);
    return static_cast<double>(solid_ ? sides : 2 - sides) * faces_.across_mm2 +
           static_cast<double>(solid_ ? rows : 2 * pixels - rows) * faces_.along_mm2 +
           static_cast<double>(levels) * faces_.level_mm2;
  }

 private:
  static const Mask& nothing() {
    static const Mask none;
    return none;
  }
  // Solid beside a gap: columns [from, to) of the row `dr` away, and what is above and below it.
  void note_side(const RowSpan& s, int dr, std::uint32_t span, std::int64_t from, std::int64_t to, GapSides& sides_of) {
    sides_of.beside.add(around_.here.pieces.of_span[span]);
    above_.anywhere(s.row + dr, from, to, [&](std::uint32_t k) {
      sides_of.above.add(around_.above->pieces.of_span[k]);
      sides_of.joined_up = true;
    });
    below_.anywhere(s.row + dr, from, to, [&](std::uint32_t k) {
      sides_of.below.add(around_.below->pieces.of_span[k]);
      sides_of.joined_down = true;
    });
  }

  bool solid_;
  const Surroundings& around_;
  const Faces& faces_;
  RowScan before_, here_, after_;  // of the layer: the row before a stretch's, its own, and the one after
  RowScan above_, below_;          // a layer that is not there has no rows
};

}  // namespace

void find_touches(LayerStretches& out, Pitch pitch, const Surroundings& around, const std::vector<RowSpan>& above) {
  const double height_mm = around.printed.height_mm;
  out.faces = {pitch.y_mm * height_mm, pitch.x_mm * height_mm, pitch.pixel_mm2()};
  const std::vector<RowSpan>& here = out.stretches;
  FaceMeter meter(out.fate, around, out.faces);
  out.faces_mm2.reserve(here.size());
  if (out.fate == Fate::fuse) out.sides.reserve(here.size());
  for (const RowSpan& stretch : here) {
    GapSides sides;
    out.faces_mm2.push_back(meter.measure(stretch, sides));
    if (out.fate == Fate::fuse) out.sides.push_back(sides);
  }
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
}

}  // namespace hairline::risk
