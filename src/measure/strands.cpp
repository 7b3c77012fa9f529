// Object angle and bisector as in Couprie, Coeurjolly, Zrour, "Discrete bisector function and Euclidean skeleton in 2D
// and 3D" (Image and Vision Computing 2007, from memory); our change: the nearest boundary points are looked for along
// strands, so nothing is done for pixels away from a thin place.
#include "strands.hpp"

#include <algorithm>
#include <cmath>

#include "../base/vector_clones.hpp"

namespace hairline::inner {
namespace {

/// The runs of one row group in one phase: spans, or the empty stretches between them.
template <Phase phase>
class RowRuns {
 public:
  RowRuns(const Mask& mask, RowRange range)
      : spans_(mask.spans.data() + range.first), spans_count_(range.last - range.first) {}
  std::uint32_t size() const { return gap_ ? (spans_count_ > 0 ? spans_count_ - 1 : 0) : spans_count_; }
  std::uint32_t begin(std::uint32_t i) const { return gap_ ? spans_[i].end : spans_[i].begin; }
  std::uint32_t end(std::uint32_t i) const { return gap_ ? spans_[i + 1].begin : spans_[i].end; }
  /// Solids touch at corners, gaps do not.
  static constexpr std::uint32_t touch = phase == Phase::gap ? 0 : 1;
  bool touches(std::uint32_t i, std::uint32_t other_begin, std::uint32_t other_end) const {
    return begin(i) < other_end + touch && other_begin < end(i) + touch;
  }
  /// Does anything of this phase, the outside included, lie against [other_begin, other_end)?
  bool closes(std::uint32_t other_begin, std::uint32_t other_end) const {
    if (gap_) {
      if (spans_count_ == 0) return false;
      if (other_begin < spans_[0].begin || other_end > spans_[spans_count_ - 1].end) return false;
    }
    std::uint32_t low = 0, high = size();  // first run that ends late enough
    while (low < high) {
      const std::uint32_t middle = (low + high) / 2;
      if (end(middle) + touch <= other_begin)
        low = middle + 1;
      else
        high = middle;
    }
    return low == size() || !touches(low, other_begin, other_end);
  }

 private:
  static constexpr bool gap_ = phase == Phase::gap;
  const Span* spans_;
  std::uint32_t spans_count_;
};

/// Rows that are alike, grey included.
void collect_groups(const Mask& mask, const Greys& greys, std::vector<RowGroup>& groups) {
  groups.clear();
  const std::uint32_t rows = static_cast<std::uint32_t>(mask.rows.size());
  for (std::uint32_t r = 0; r < rows;) {
    RowGroup group = group_at(mask, r);
    r += group.count;
    if (!group.range.empty()) {
      for (std::uint32_t i = group.row + 1; i < r; ++i) {
        if (!greys.changes_at(i)) continue;
        groups.push_back({group.row, i - group.row, group.range});
        group = {i, r - i, group.range};
      }
    }
    groups.push_back(group);
  }
}

/// The thin run above that `run` continues, or no_run: they are each other's only neighbour.
template <Phase phase>
class LinkFinder {
 public:
  LinkFinder(const RowRuns<phase>& above, const RowRuns<phase>& here, const std::vector<ThinRun>& runs,
             std::uint32_t above_first, std::uint32_t above_last)
      : above_(above), here_(here), runs_(runs), thin_(above_first), thin_last_(above_last) {}

  std::uint32_t link(std::uint32_t i) {
    constexpr std::uint32_t touch = RowRuns<phase>::touch;
    const std::uint32_t begin = here_.begin(i), end = here_.end(i);
    while (at_ < above_.size() && above_.end(at_) + touch <= begin) ++at_;
    if (at_ == above_.size() || above_.begin(at_) >= end + touch) return no_run;
    const std::uint32_t above_begin = above_.begin(at_), above_end = above_.end(at_);
    while (thin_ < thin_last_ && runs_[thin_].begin < above_begin) ++thin_;
    if (thin_ == thin_last_ || runs_[thin_].begin != above_begin) return no_run;
    if (at_ + 1 < above_.size() && above_.begin(at_ + 1) < end + touch) return no_run;
    if (i > 0 && here_.end(i - 1) + touch > above_begin) return no_run;
    if (i + 1 < here_.size() && here_.begin(i + 1) < above_end + touch) return no_run;
    return thin_;
  }

 private:
  const RowRuns<phase>& above_;
  const RowRuns<phase>& here_;
  const std::vector<ThinRun>& runs_;
  std::uint32_t at_ = 0, thin_, thin_last_;
};

template <Phase phase>
void collect_runs(const Mask& mask, std::uint32_t longest_run_px, Strands& out) {
  out.runs.clear();
  out.first_run.clear();
  std::uint32_t slots = 0;
  RowRuns<phase> above(mask, RowRange{});
  std::uint32_t above_first = 0;
  for (std::uint32_t g = 0; g < out.groups.size(); ++g) {
    const RowRuns<phase> here(mask, out.groups[g].range);
    const std::uint32_t here_first = static_cast<std::uint32_t>(out.runs.size());
    const std::uint32_t entries = out.entries_of(out.groups[g].count);
    out.first_run.push_back(here_first);
    LinkFinder<phase> finder(above, here, out.runs, above_first, here_first);
    for (std::uint32_t i = 0; i < here.size(); ++i) {
      const std::uint32_t begin = here.begin(i), end = here.end(i);
      if (end - begin > longest_run_px) continue;
      const std::uint32_t link = finder.link(i);
      if (link != no_run) out.runs[link].next = static_cast<std::uint32_t>(out.runs.size());
      out.runs.push_back({begin, end, g, no_run, slots, link != no_run});
      slots += entries;
    }
    above = here;
    above_first = here_first;
  }
  out.first_run.push_back(static_cast<std::uint32_t>(out.runs.size()));
  out.widths.resize(slots);  // every entry is written by its strand
  out.lengths.resize(slots);
  out.ends.clear();
}

// --- measuring one batch ------------------------------------------------------------------------------------------

constexpr std::uint32_t lanes = 16;
constexpr float far_away = 1e6f;  // padding between strands: never the nearest
constexpr std::uint32_t batch_entries = 1024;
constexpr std::uint32_t slope_rows = 4;   // the middle line's slope is taken over so many rows up and down
constexpr std::uint32_t smooth_rows = 4;  // an edge without grey is averaged over so many rows up and down

typedef float Floats __attribute__((vector_size(lanes * sizeof(float)), may_alias, aligned(4)));

/// Takes the nearer point where there is one.
#define HAIRLINE_OFFER(best2, best_rows, dx, dy2, row) \
  do {                                                 \
    const Floats candidate2 = (dx) * (dx) + (dy2);     \
    const auto nearer = candidate2 < (best2);          \
    (best2) = nearer ? candidate2 : (best2);           \
    (best_rows) = nearer ? (row) : (best_rows);        \
  } while (false)

/// Nearest boundary points in each quarter for the entries [first, last), `lanes` at a time. No point further up or
/// down than half the longest run can be the nearest; half way it is seen again how far to go.
HAIRLINE_VECTOR_CLONES void find_nearest(StrandBatch& batch, std::size_t first, std::size_t last, float row_ratio) {
  const auto at = [](const float* from) -> const Floats& { return *reinterpret_cast<const Floats*>(from); };
  const auto to = [](float* from) -> Floats& { return *reinterpret_cast<Floats*>(from); };
  const auto rows_to_go = [&](const Floats& furthest2) {
    float longest2 = furthest2[0];
    for (std::uint32_t lane = 1; lane < lanes; ++lane) longest2 = std::max(longest2, furthest2[lane]);
    return static_cast<std::ptrdiff_t>(std::ceil(std::sqrt(longest2) / row_ratio)) - 1;
  };
  for (std::size_t i = first; i < last; i += lanes) {
    const float *left = batch.left.data() + i, *right = batch.right.data() + i;
    const Floats middle = at(batch.middle.data() + i);
    const Floats half = at(right) - middle;
    Floats left_up2 = half * half, left_down2 = left_up2, right_up2 = left_up2, right_down2 = left_up2;
    Floats left_up_rows = half * 0, left_down_rows = left_up_rows;
    Floats right_up_rows = left_up_rows, right_down_rows = left_up_rows;
    std::ptrdiff_t reach = rows_to_go(left_up2);
    const std::ptrdiff_t look_again = reach / 2;
    for (std::ptrdiff_t k = 1; k <= reach; ++k) {
      const float dy = static_cast<float>(k) * row_ratio;
      const Floats dy2 = half * 0 + dy * dy, rows = half * 0 + static_cast<float>(k);
      HAIRLINE_OFFER(left_up2, left_up_rows, middle - at(left - k), dy2, rows);
      HAIRLINE_OFFER(left_down2, left_down_rows, middle - at(left + k), dy2, rows);
      HAIRLINE_OFFER(right_up2, right_up_rows, at(right - k) - middle, dy2, rows);
      HAIRLINE_OFFER(right_down2, right_down_rows, at(right + k) - middle, dy2, rows);
      if (k != look_again) continue;
      const Floats left2 = left_up2 > left_down2 ? left_up2 : left_down2;
      const Floats right2 = right_up2 > right_down2 ? right_up2 : right_down2;
      reach = rows_to_go(left2 > right2 ? left2 : right2);
    }
    to(batch.near2[left_up].data() + i) = left_up2;
    to(batch.near2[left_down].data() + i) = left_down2;
    to(batch.near2[right_up].data() + i) = right_up2;
    to(batch.near2[right_down].data() + i) = right_down2;
    to(batch.rows[left_up].data() + i) = left_up_rows;
    to(batch.rows[left_down].data() + i) = left_down_rows;
    to(batch.rows[right_up].data() + i) = right_up_rows;
    to(batch.rows[right_down].data() + i) = right_down_rows;
  }
}
#undef HAIRLINE_OFFER

/// A boundary point seen from the run's middle, and its entry.
struct Sight {
  float dx, dy, distance;
  std::size_t entry;
};

/// The nearest point of one quarter.
Sight sight(const StrandBatch& batch, std::size_t at, Quarter quarter, float row_ratio) {
  const bool up = quarter == left_up || quarter == right_up;
  const float rows = batch.rows[quarter][at] * (up ? -1.0f : 1.0f);
  const std::vector<float>& boundary = quarter == left_up || quarter == left_down ? batch.left : batch.right;
  const auto there = static_cast<std::size_t>(static_cast<std::ptrdiff_t>(at) + static_cast<std::ptrdiff_t>(rows));
  return {boundary[there] - batch.middle[at], rows * row_ratio, std::sqrt(batch.near2[quarter][at]), there};
}

/// The nearer of a side's two quarters; of two equally near ones that fewer rows away.
Quarter nearer(const StrandBatch& batch, std::size_t at, Quarter up, Quarter down) {
  const float up2 = batch.near2[up][at], down2 = batch.near2[down][at];
  if (up2 != down2) return up2 < down2 ? up : down;
  return batch.rows[up][at] <= batch.rows[down][at] ? up : down;
}

/// Distance from an entry to the closed end of its strand: the outer edge of the run `end`.
float cap_distance(const StrandBatch& batch, std::size_t at, std::size_t end, float row_ratio) {
  const float rows = static_cast<float>(at > end ? at - end : end - at) + 0.5f;
  const float dx =
      std::max({0.0f, batch.left[end] + 0.5f - batch.middle[at], batch.middle[at] - batch.right[end] + 0.5f});
  const float dy = rows * row_ratio;
  return std::sqrt(dx * dx + dy * dy);
}

/// What lies around one entry: the nearest boundary points on each side, and the strand's closed ends.
struct Surroundings {
  Sight seen[4];
  float nearest;      ///< to any boundary point
  float nearest_cap;  ///< to a closed end, far_away where there is none
  float height;       ///< of a strand closed on both ends, far_away of others
};

Surroundings surroundings(const StrandBatch& batch, std::size_t at, const StrandInBatch& strand, float row_ratio) {
  Surroundings out{{}, 0, far_away, far_away};
  for (const Quarter quarter : {left_up, left_down, right_up, right_down})
    out.seen[quarter] = sight(batch, at, quarter, row_ratio);
  if (strand.closed_top) out.nearest_cap = cap_distance(batch, at, strand.first, row_ratio);
  if (strand.closed_bottom)
    out.nearest_cap = std::min(out.nearest_cap, cap_distance(batch, at, strand.last - 1, row_ratio));
  if (strand.closed_top && strand.closed_bottom)
    out.height = static_cast<float>(strand.last - strand.first) * row_ratio;
  out.nearest = std::min(
      {out.seen[0].distance, out.seen[1].distance, out.seen[2].distance, out.seen[3].distance, out.nearest_cap});
  return out;
}

/// Grid slack, columns: rows and run middles miss the medial axis by up to half a pixel.
struct Slack {
  float any, side, end;
};
Slack slack_of(float row_ratio) {
  const float pixel = std::max(1.0f, row_ratio);
  return {0.75f * pixel, 0.6f * pixel, 0.3f * pixel};
}

/// May the points p (left) and q (right) be the two contacts of an inscribed disc?
bool are_contacts(const Surroundings& around, const Sight& p, const Sight& q, float least_angle_cos,
                  const Slack& slack) {
  const float near = std::min(p.distance, q.distance), far = std::max(p.distance, q.distance);
  if (near > around.nearest + slack.any || far > 2 * near + slack.any) return false;
  // The last row of an end is passed over where a row further in shows the same: an object no taller than wide has
  // none.
  if (near > around.nearest_cap + slack.end && around.height > 2 * near + 1) return false;
  return p.dx * q.dx + p.dy * q.dy <= least_angle_cos * p.distance * q.distance;
}

/// Boundary points of neighbouring rows this far apart or less lie on one edge, which is straight between them; further
/// apart, the boundary has a corner. Columns.
float longest_step(float row_ratio) {
  return std::max(1.5f * row_ratio, 1.01f);
}

/// A boundary of one strand, its points joined by straight edges, seen from (x, row `at`).
struct FineBoundary {
  const std::vector<float>& points;
  float x;
  std::size_t at;
  float row_ratio;

  float dy(std::size_t entry) const { return (static_cast<float>(entry) - static_cast<float>(at)) * row_ratio; }
  float dx(std::size_t entry) const { return points[entry] - x; }
  float distance2(std::size_t entry) const { return dx(entry) * dx(entry) + dy(entry) * dy(entry); }
  bool joined(std::size_t a, std::size_t b) const { return std::abs(points[a] - points[b]) <= longest_step(row_ratio); }

  /// From a point on, one way (-1 up, 1 down), for as long as it comes nearer.
  std::size_t nearest_along(std::size_t from, std::ptrdiff_t way) const {
    for (std::size_t next = from + way; joined(from, next) && distance2(next) < distance2(from); next += way)
      from = next;
    return from;
  }
  /// Nearest squared distance to the edge between two neighbouring points; to `from` where they are not joined.
  float edge2(std::size_t from, std::size_t next) const {
    const float ex = points[next] - points[from], ey = dy(next) - dy(from);
    const float along = -(dx(from) * ex + dy(from) * ey);
    if (along <= 0 || !joined(from, next)) return distance2(from);
    return std::max(0.0f, distance2(from) - along * along / (ex * ex + ey * ey));
  }
  float distance(std::size_t from) const {
    if (from == at && points[from - 1] == points[from] && points[from + 1] == points[from]) return std::abs(dx(from));
    float best2 = distance2(from);
    for (const std::ptrdiff_t way : {-1, 1}) {
      const std::size_t nearest = nearest_along(from, way);
      best2 = std::min({best2, edge2(nearest, nearest - 1), edge2(nearest, nearest + 1)});
    }
    return std::sqrt(best2);
  }
};

/// The width between the boundaries as grey and neighbouring rows say they lie, near the points that were found.
float fine_width(const StrandBatch& batch, std::size_t at, const Contacts& contacts, float row_ratio) {
  const float x = (batch.fine_left[at] + batch.fine_right[at]) * 0.5f;
  return FineBoundary{batch.fine_left, x, at, row_ratio}.distance(contacts.left) +
         FineBoundary{batch.fine_right, x, at, row_ratio}.distance(contacts.right);
}

/// The nearest points on the left and on the right; none where the two do not face each other, or where something else
/// is clearly nearer than both. Points up and down that are about equally near are tried in turn.
Contacts contacts_at(const Surroundings& around, const StrandSettings& settings) {
  const Slack slack = slack_of(static_cast<float>(settings.row_ratio));
  const Sight* seen = around.seen;
  const float left = std::min(seen[left_up].distance, seen[left_down].distance) + slack.side;
  const float right = std::min(seen[right_up].distance, seen[right_down].distance) + slack.side;
  Contacts found;
  for (const Quarter l : {left_up, left_down}) {
    for (const Quarter r : {right_up, right_down}) {
      const Sight &p = seen[l], &q = seen[r];
      const float sum = p.distance + q.distance;
      if (p.distance > left || q.distance > right || sum >= found.distance) continue;
      if (!are_contacts(around, p, q, static_cast<float>(settings.least_angle_cos), slack)) continue;
      found = {sum, p.entry, q.entry};
    }
  }
  return found;
}

/// One closed end of a strand, walked inwards: entry(0) is the last row before the end.
struct EndWalk {
  const StrandBatch& batch;
  std::size_t outermost;
  bool down;               ///< inwards is down
  std::size_t count;       ///< entries of the strand
  bool widens_at_far_end;  ///< the other end of the strand opens into something else
  float row_ratio;

  std::size_t entry(std::size_t i) const { return down ? outermost + i : outermost - i; }
  float length(std::size_t i) const { return batch.right[entry(i)] - batch.left[entry(i)]; }
  float depth(std::size_t i) const { return batch.depth[entry(i)]; }
  float rows(std::size_t i) const { return static_cast<float>(i) * row_ratio; }
};

/// A corner comes out thin in its last pixels. They are told from a thin end by the inscribed disc of an entry further
/// in that covers them and is clearly larger: twice as large is the tip of a 60 degree corner. Less is asked of the
/// last pixels, where the grid makes every end look pointed.
bool is_covered(const EndWalk& end, std::size_t i) {
  const float depth = end.depth(i);
  const float clearly = std::min(2 * depth, std::max(1.3f * depth, depth + 0.4f));
  for (std::size_t j = i + 1; j < end.count && end.rows(j - i) <= 8 * depth + 4; ++j) {
    const float dx = end.batch.middle[end.entry(i)] - end.batch.middle[end.entry(j)], dy = end.rows(j - i);
    const float cover = end.depth(j) + 0.5f;
    if (end.depth(j) >= clearly && dx * dx + dy * dy <= cover * cover) return true;
  }
  return false;
}

/// A flat corner shows as a stub shorter than wide that widens faster than a 60 degree tip does.
bool is_stub(const EndWalk& end, std::size_t i) {
  constexpr float growth_of_60_degrees = 1.1547f;
  for (std::size_t j = i + 1; j <= end.count && end.rows(j) < 1.2f * end.length(i); ++j) {
    if (j == end.count) return end.widens_at_far_end;
    if (end.length(j) > end.length(i) + growth_of_60_degrees * end.rows(j - i) + 1) return true;
  }
  return false;
}

/// The square end of a slanted wall is ragged: its last rows measure up to two pixels or so less than the wall, which
/// goes on evenly behind them; a blade does not.
bool is_ragged(const EndWalk& end, std::size_t i, const std::vector<float>& widths) {
  const float width = widths[end.batch.slot[end.entry(i)]], rows = 1.5f * width + 2;
  float widest = 0, half_way = 0, last = 0;
  for (std::size_t j = i + 1; j < end.count && end.rows(j - i) <= rows; ++j) {
    last = widths[end.batch.slot[end.entry(j)]];
    if (2 * end.rows(j - i) <= rows) half_way = last;
    widest = std::max(widest, last);
  }
  return widest > width + 0.15f && widest <= width + 2.5f && std::abs(last - half_way) <= 0.5f;
}

void drop_tips(const EndWalk& end, std::vector<float>& widths) {
  for (std::size_t i = 0; i < end.count && end.rows(i) <= end.length(i) + 1; ++i) {
    float& width = widths[end.batch.slot[end.entry(i)]];
    if (width > 0 && (is_covered(end, i) || is_stub(end, i) || is_ragged(end, i, widths))) width = 0;
  }
}

/// The common case: the nearest left and right points face each other, and no end is near. False: look closer.
bool look_plainly(StrandBatch& batch, std::size_t at, const StrandSettings& settings, Contacts& contacts) {
  const float ratio = static_cast<float>(settings.row_ratio);
  const Sight left = sight(batch, at, nearer(batch, at, left_up, left_down), ratio);
  const Sight right = sight(batch, at, nearer(batch, at, right_up, right_down), ratio);
  batch.depth[at] = std::min(left.distance, right.distance);
  if (std::max(left.distance, right.distance) > 2 * batch.depth[at]) return false;
  const float limit = static_cast<float>(settings.least_angle_cos) * left.distance * right.distance;
  if (left.dx * right.dx + left.dy * right.dy > limit) return false;
  contacts = {left.distance + right.distance, left.entry, right.entry};
  return true;
}

/// The grid moves each boundary point of a small round piece by up to half a pixel, and the nearest of them lie up
/// to 1.3 pixels too near in all. So a strand closed at both ends that is about as tall as wide, and fills its box as a
/// disc does (pi / 4 of it), gets the diameter of the disc of equal area instead, which the grid hardly moves. 0: not
/// round.
float round_width(const StrandBatch& batch, const StrandInBatch& strand, float row_ratio) {
  if (!strand.closed_top || !strand.closed_bottom) return 0;
  float area = 0, from = batch.left[strand.first], to = batch.right[strand.first];
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    area += (batch.fine_right[at] - batch.fine_left[at]) * row_ratio;
    from = std::min(from, batch.left[at]);
    to = std::max(to, batch.right[at]);
  }
  const float across = to - from, height = static_cast<float>(strand.last - strand.first) * row_ratio;
  const float pixel = std::max(1.0f, row_ratio), filled = area / (across * height);
  if (std::abs(across - height) > pixel || filled < 0.7f || filled > 0.9f) return 0;
  return std::sqrt(area * 1.2732395f);
}

/// Edges without grey are known to half a pixel only, row by row. So they are put where the rows around have them on
/// average: as many above as below, so that straight ones stay where they are, and only where the run stays as long to
/// a pixel and has no corner.
void smooth_edges(StrandBatch& batch, const StrandInBatch& strand, float row_ratio) {
  const float step = longest_step(row_ratio);
  const std::vector<float>&left = batch.left, &right = batch.right;
  const auto is_hard = [&](std::size_t at) { return batch.hard[at] != 0; };
  const auto goes_on = [&](std::size_t from, std::size_t to, float length) {
    return is_hard(to) && std::abs(left[to] - left[from]) <= step && std::abs(right[to] - right[from]) <= step &&
           std::abs(right[to] - left[to] - length) <= 1;
  };
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    if (!is_hard(at)) continue;
    float left_sum = left[at], right_sum = right[at];
    const std::size_t most = std::min({std::size_t{smooth_rows}, at - strand.first, strand.last - 1 - at});
    std::size_t k = 1;
    for (; k <= most; ++k) {
      const float length = right[at] - left[at];
      if (!goes_on(at - k + 1, at - k, length) || !goes_on(at + k - 1, at + k, length)) break;
      left_sum += left[at - k] + left[at + k];
      right_sum += right[at - k] + right[at + k];
    }
    batch.fine_left[at] = to_grain(left_sum / static_cast<float>(2 * k - 1));
    batch.fine_right[at] = to_grain(right_sum / static_cast<float>(2 * k - 1));
  }
}

/// Rows of the middle line by one: how far it goes sideways, in row pitches; over a few rows up and down.
float slope_at(const StrandBatch& batch, const StrandInBatch& strand, std::size_t at, float row_ratio) {
  const std::size_t from = at - std::min<std::size_t>(at - strand.first, slope_rows);
  const std::size_t to = std::min<std::size_t>(at + slope_rows, strand.last - 1);
  if (from == to) return 0;
  const auto twice_middle = [&](std::size_t entry) { return batch.fine_left[entry] + batch.fine_right[entry]; };
  return (twice_middle(to) - twice_middle(from)) / (2 * static_cast<float>(to - from) * row_ratio);
}

/// How much of a middle line this direction answers for: all that is more upright than 39 degrees from the rows'
/// normal, nothing from 51 degrees on, the other direction the rest; in between both, so that one measured a little off
/// is counted once on average.
float share_of_direction(float slope) {
  return std::clamp(5 / (1 + slope * slope) - 2, 0.0f, 1.0f);
}

/// The outermost entry of a closed end at which something thin is, counted inwards from the last row.
std::size_t first_measured(const EndWalk& end, const std::vector<float>& widths) {
  std::size_t i = 0;
  while (i < end.count && !(widths[end.batch.slot[end.entry(i)]] > 0)) ++i;
  return i;
}

/// Entries at a closed end over which the middle line bends towards a corner of it.
std::size_t bent_entries(const EndWalk& end, const std::vector<float>& widths) {
  const std::size_t first = first_measured(end, widths);
  if (first == end.count) return 0;
  return static_cast<std::size_t>(widths[end.batch.slot[end.entry(first)]] / end.row_ratio) + 1 + slope_rows;
}

/// A closed end, where nothing is measured, goes with the first place that is: half as much of it as that is wide.
void add_end(const EndWalk& end, float slope, Strands& out) {
  const std::size_t first = first_measured(end, out.widths);
  if (first == 0 || first == end.count) return;
  const float width = out.widths[end.batch.slot[end.entry(first)]];
  const float length = std::min(end.rows(first) * std::sqrt(1 + slope * slope), 0.5f * width);
  out.ends.push_back({width, length * share_of_direction(slope)});
}

/// The length of the middle line row by row, with the closed ends, before which its slope is taken.
void measure_lengths(const StrandBatch& batch, const StrandInBatch& strand, float row_ratio, Strands& out) {
  const std::size_t count = strand.last - strand.first;
  const EndWalk top{batch, strand.first, true, count, !strand.closed_bottom, row_ratio};
  const EndWalk bottom{batch, strand.last - 1, false, count, !strand.closed_top, row_ratio};
  const std::size_t from = strand.closed_top ? bent_entries(top, out.widths) : 0;
  const std::size_t to = strand.closed_bottom ? bent_entries(bottom, out.widths) : 0;
  const auto slope = [&](std::size_t at) {
    const std::size_t inner =
        from + to >= count ? strand.first + count / 2 : std::clamp(at, strand.first + from, strand.last - 1 - to);
    return slope_at(batch, strand, inner, row_ratio);
  };
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    if (!(out.widths[batch.slot[at]] > 0)) continue;
    const float s = slope(at);
    out.lengths[batch.slot[at]] = row_ratio * std::sqrt(1 + s * s) * share_of_direction(s);
  }
  if (strand.closed_top) add_end(top, slope(strand.first), out);
  if (strand.closed_bottom) add_end(bottom, slope(strand.last - 1), out);
}

/// Looks for the contacts of every entry; false where no two are near enough to each other to be a thin place.
bool find_contacts(StrandBatch& batch, const StrandInBatch& strand, std::uint32_t reach,
                   const StrandSettings& settings) {
  const float ratio = static_cast<float>(settings.row_ratio);
  // Entries from which an end is in sight.
  const std::size_t top = strand.closed_top ? strand.first + reach + 1 : strand.first;
  const std::size_t bottom =
      strand.closed_bottom ? strand.last - std::min<std::size_t>(strand.last, reach + 1) : strand.last;
  bool any = false;
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    Contacts& contacts = batch.contacts[at];
    if (at < top || at >= bottom || !look_plainly(batch, at, settings, contacts)) {
      const Surroundings around = surroundings(batch, at, strand, ratio);
      batch.depth[at] = around.nearest;
      contacts = contacts_at(around, settings);
    }
    any = any || contacts.distance <= static_cast<float>(settings.limit_px) + 2;
  }
  return any;
}

/// The boundaries of a strand as its grey pixels say, and where there is no grey, the rows around.
void refine(Greys& greys, Phase phase, StrandBatch& batch, const StrandInBatch& strand, float row_ratio) {
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    const float left = batch.left[at], right = batch.right[at];
    Boundaries fine{left, right};
    if (at > strand.first && batch.slot[at] == batch.slot[at - 1] + 1 && batch.line[at] == batch.line[at - 1])
      fine = {batch.fine_left[at - 1], batch.fine_right[at - 1]};  // a row like the one before
    else if (greys.any())
      fine = greys.boundaries(batch.line[at], static_cast<std::uint32_t>(left), static_cast<std::uint32_t>(right),
                              phase == Phase::solid);
    batch.fine_left[at] = fine.left;
    batch.fine_right[at] = fine.right;
    batch.hard[at] = fine.left == left && fine.right == right ? 1 : 0;
  }
  batch.round = round_width(batch, strand, row_ratio);
  smooth_edges(batch, strand, row_ratio);
}

void measure_strand(Greys& greys, const StrandInBatch& strand, const StrandSettings& settings, Strands& out) {
  StrandBatch& batch = out.batch;
  std::vector<float>& widths = out.widths;
  if (!find_contacts(batch, strand, out.reach, settings)) {
    for (std::size_t at = strand.first; at < strand.last; ++at) widths[batch.slot[at]] = 0;
    return;
  }
  const float ratio = static_cast<float>(settings.row_ratio), limit = static_cast<float>(settings.limit_px);
  refine(greys, settings.phase, batch, strand, ratio);
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    const Contacts& contacts = batch.contacts[at];
    float width = 0;
    if (contacts.distance <= limit + 2) width = std::max(fine_width(batch, at, contacts, ratio), settings.least_px);
    widths[batch.slot[at]] = width <= limit ? width : 0;
  }
  const std::size_t count = strand.last - strand.first;
  if (strand.closed_top) drop_tips({batch, strand.first, true, count, !strand.closed_bottom, ratio}, widths);
  if (strand.closed_bottom) drop_tips({batch, strand.last - 1, false, count, !strand.closed_top, ratio}, widths);
  measure_lengths(batch, strand, ratio, out);
  if (batch.round == 0) return;
  for (std::size_t at = strand.first; at < strand.last; ++at) {
    float& width = widths[batch.slot[at]];
    if (width > 0) width = batch.round <= limit ? batch.round : 0;
    out.lengths[batch.slot[at]] /= 2;  // both directions see it
  }
}

void clear(StrandBatch& batch) {
  batch.size = 0;
  batch.strands.clear();
}

void make_room(StrandBatch& batch, std::size_t more) {
  if (batch.size + more <= batch.left.size()) return;
  const std::size_t size = 2 * (batch.size + more) + batch_entries;
  for (std::vector<float>* list :
       {&batch.left, &batch.right, &batch.middle, &batch.fine_left, &batch.fine_right, &batch.depth})
    list->resize(size);
  for (std::vector<float>& list : batch.near2) list.resize(size);
  for (std::vector<float>& list : batch.rows) list.resize(size);
  batch.hard.resize(size);
  batch.contacts.resize(size);
  batch.line.resize(size);
  batch.slot.resize(size);
}

void push_entries(StrandBatch& batch, const ThinRun& run, std::uint32_t line, std::uint32_t count) {
  make_room(batch, count);
  const float left = static_cast<float>(run.begin), right = static_cast<float>(run.end);
  for (std::uint32_t i = 0; i < count; ++i, ++batch.size) {
    batch.left[batch.size] = left;
    batch.right[batch.size] = right;
    batch.middle[batch.size] = (left + right) * 0.5f;
    batch.line[batch.size] = line;
    batch.slot[batch.size] = run.slot + i;
  }
}

void push_padding(StrandBatch& batch, std::uint32_t rows) {
  make_room(batch, rows);
  for (std::uint32_t i = 0; i < rows; ++i, ++batch.size) {
    batch.left[batch.size] = batch.right[batch.size] = batch.middle[batch.size] = far_away;
    batch.fine_left[batch.size] = batch.fine_right[batch.size] = far_away;
  }
}

void measure_batch(Greys& greys, const StrandSettings& settings, Strands& out) {
  StrandBatch& batch = out.batch;
  if (batch.strands.empty()) return;
  push_padding(batch, out.reach + lanes);
  const std::size_t first = batch.strands.front().first, last = batch.strands.back().last;
  find_nearest(batch, first, last, static_cast<float>(settings.row_ratio));
  for (const StrandInBatch& strand : batch.strands) measure_strand(greys, strand, settings, out);
  clear(batch);
}

/// Is there nothing beyond the strand's end `run`, in row group `beyond` (or past the image)?
bool is_closed(const Mask& mask, const Strands& strands, const ThinRun& run, std::uint32_t beyond, Phase phase) {
  if (beyond >= strands.groups.size()) return phase == Phase::solid;
  const RowRange range = strands.groups[beyond].range;
  return phase == Phase::solid ? RowRuns<Phase::solid>(mask, range).closes(run.begin, run.end)
                               : RowRuns<Phase::gap>(mask, range).closes(run.begin, run.end);
}

void add_strand(const Mask& mask, Greys& greys, const StrandSettings& settings, std::uint32_t start, Strands& out) {
  StrandBatch& batch = out.batch;
  push_padding(batch, out.reach);
  StrandInBatch strand{static_cast<std::uint32_t>(batch.size), 0, false, false};
  strand.closed_top = is_closed(mask, out, out.runs[start], out.runs[start].group - 1, settings.phase);
  for (std::uint32_t i = start; i != no_run; i = out.runs[i].next) {
    const ThinRun& run = out.runs[i];
    const RowGroup& group = out.groups[run.group];
    push_entries(batch, run, group.row, out.entries_of(group.count));
    if (run.next == no_run) strand.closed_bottom = is_closed(mask, out, run, run.group + 1, settings.phase);
  }
  strand.last = static_cast<std::uint32_t>(batch.size);
  batch.strands.push_back(strand);
  if (batch.size >= batch_entries) measure_batch(greys, settings, out);
}

}  // namespace

void measure_strands(const Mask& mask, Greys& greys, const StrandSettings& settings, Strands& out) {
  const auto nearest_rows = static_cast<std::uint32_t>(std::ceil(0.5 * settings.longest_run_px / settings.row_ratio));
  out.reach = std::max(nearest_rows, slope_rows) + smooth_rows;
  collect_groups(mask, greys, out.groups);
  if (settings.phase == Phase::solid)
    collect_runs<Phase::solid>(mask, settings.longest_run_px, out);
  else
    collect_runs<Phase::gap>(mask, settings.longest_run_px, out);
  clear(out.batch);
  for (std::uint32_t i = 0; i < out.runs.size(); ++i) {
    if (!out.runs[i].continues_above) add_strand(mask, greys, settings, i, out);
  }
  measure_batch(greys, settings, out);
}

}  // namespace hairline::inner
